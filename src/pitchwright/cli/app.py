"""The list of commands, and what becomes of an error: one sentence and an exit code.

Exit codes: 0 done, 1 an internal fault, 2 something given cannot be used, 130 stopped by the user.
"""

from __future__ import annotations

import os
import sys
from typing import Annotated

import typer

from pitchwright.cli import (
    certificate,
    correct,
    demo,
    detune,
    devices,
    ensemble,
    log,
    page,
    practice,
    read,
    route,
    survey,
    trim,
    warmup,
)
from pitchwright.errors import PitchwrightError

__all__ = ["app", "main"]

_STOPPED = 130

# Plain help: typer's boxes cost a tenth of a second and say nothing more.
app = typer.Typer(
    name="pitchwright",
    help="Listens to the oscillators of a modular synthesizer, and says which trimmer to turn, "
    "at which note, and at which reading to stop.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)


@app.callback(invoke_without_command=True)
def _top(
    show_version: Annotated[
        bool, typer.Option("--version", help="Print the version and stop.")
    ] = False,
) -> None:
    if show_version:
        from importlib.metadata import version

        print(f"pitchwright {version('pitchwright')}")  # noqa: T201
        raise typer.Exit


app.command("read")(read.read)
app.command("survey")(survey.survey)
app.command("trim")(trim.trim)
app.add_typer(practice.app, name="practice")
app.command("route")(route.route)
app.command("ensemble")(ensemble.ensemble)
app.command("detune")(detune.detune)
app.command("correct")(correct.correct)
app.command("warmup")(warmup.warmup)
app.command("certificate")(certificate.certificate)
app.command("label")(certificate.label)
app.command("page")(page.page)
app.add_typer(log.app, name="log")
app.command("devices")(devices.devices)
app.command("demo")(demo.demo)


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and leave the process with its exit code.

    Parameters
    ----------
    arguments
        What stands behind the program's name; the process's own arguments where None.
    """
    sys.exit(_run(arguments))


def _run(arguments: list[str] | None) -> int:
    try:
        outcome = app(args=arguments, standalone_mode=False)
    except PitchwrightError as refused:
        return _say(refused.sentence, refused.exit_code)
    except (KeyboardInterrupt, typer.Abort):
        outcome = _STOPPED
    except (BrokenPipeError, SystemExit):
        # The reader of our output went away (a pager was closed), which typer answers by leaving:
        # nobody is left to tell.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as fault:
        if hasattr(fault, "format_message") and hasattr(fault, "exit_code"):
            # typer keeps its usage errors' class to itself; these two mark them.
            return _say(f"{fault.format_message()} See pitchwright --help.", 2)
        if os.environ.get("PITCHWRIGHT_TRACEBACK"):
            import traceback

            traceback.print_exc()
        return _say(
            f"Internal fault, not yours: {type(fault).__name__}: {fault}. "
            "Set PITCHWRIGHT_TRACEBACK=1 and run again to see where.",
            1,
        )
    if outcome == _STOPPED:
        # typer makes this code of an interrupt, but says nothing.
        return _say("Stopped; what was finished before is kept.", _STOPPED)
    return outcome if isinstance(outcome, int) else 0


def _say(sentence: str, exit_code: int) -> int:
    print(" ".join(sentence.split()), file=sys.stderr)  # noqa: T201
    return exit_code
