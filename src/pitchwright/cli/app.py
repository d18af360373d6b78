"""The list of commands, and what becomes of an error: one sentence and an exit code.

Exit codes: 0 done, 1 an internal fault, 2 something given cannot be used, 130 stopped by the user.
"""

from __future__ import annotations

import os
import sys
from typing import Annotated

import typer

from pitchwright.cli.when_used import Command, group_of
from pitchwright.errors import PitchwrightError

__all__ = ["COMMANDS", "app", "main"]

_STOPPED = 130

COMMANDS = {
    "devices": Command("pitchwright.cli.devices:devices", "What there is to hear and play by."),
    "bench": Command("pitchwright.cli.bench:app", "What is connected: describe it once."),
    "listen": Command("pitchwright.cli.listen:listen", "A live reading of every channel."),
    "tone": Command("pitchwright.cli.tone:tone", "Sound a note to beat against."),
    "read": Command("pitchwright.cli.read:read", "Read single tones in recordings."),
    "survey": Command("pitchwright.cli.survey:survey", "How far off at every note, and why."),
    "trim": Command("pitchwright.cli.trim:trim", "Which trimmer, which note, where to stop."),
    "warmup": Command("pitchwright.cli.warmup:warmup", "Is it warm, and will it settle?"),
    "route": Command("pitchwright.cli.route:route", "What the patch does to the voltage."),
    "ensemble": Command("pitchwright.cli.ensemble:ensemble", "All together: beats, whose error."),
    "source": Command("pitchwright.cli.source:source", "A source itself: survey and trim it."),
    "detune": Command("pitchwright.cli.detune:detune", "Plan how oscillators beat."),
    "correct": Command("pitchwright.cli.correct:correct", "Correct what cannot be trimmed."),
    "log": Command("pitchwright.cli.log:app", "What was done when; what is due."),
    "certificate": Command("pitchwright.cli.certificate:certificate", "An instrument on paper."),
    "label": Command("pitchwright.cli.certificate:label", "Print labels for inside the case."),
    "page": Command("pitchwright.cli.page:page", "The whole job on a screen beside it."),
    "practice": Command("pitchwright.cli.practice:app", "An invented instrument to practise on."),
    "demo": Command("pitchwright.cli.demo:demo", "Watch the whole job done."),
}
"""Every command, in the order of the list: what is connected, the job, the years, practice."""

# Plain help: typer's boxes cost a tenth of a second and say nothing more.
app = typer.Typer(
    name="pitchwright",
    cls=group_of(COMMANDS),
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


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and leave the process with its exit code.

    Parameters
    ----------
    arguments
        What stands behind the program's name; the process's own arguments where None.
    """
    # Our matrices are small: BLAS's threads would wait for each other, at the cost of the sound.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
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
