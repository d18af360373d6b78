"""What the commands that measure ask for and say about the logbook: all of it in one place."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Annotated

import typer

from pitchwright.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from pitchwright.procedures.circumstances import Conditions, SurveyState
    from pitchwright.procedures.events import Happening
    from pitchwright.procedures.settings import TrimSettings
    from pitchwright.procedures.survey import SurveySettings
    from pitchwright.upkeep import Recorder, Stopped
    from pitchwright.upkeep.resuming import Settings

__all__ = [
    "AfreshOption",
    "LogbookOption",
    "MinutesOption",
    "ResumeOption",
    "RouteOption",
    "SourceOption",
    "TemperatureOption",
    "WhenOption",
    "announce_and_record",
    "chosen_state",
    "chosen_time",
    "conditions",
    "go_on_with",
    "go_on_with_survey",
    "recorder",
    "say_where",
]

LogbookOption = Annotated[
    str,
    typer.Option(
        "--logbook",
        help="Logbook to write into: a file, or postgresql://...; none for none.  [default: "
        "$PITCHWRIGHT_LOGBOOK, else your own]",
        show_default=False,
    ),
]
TemperatureOption = Annotated[
    float | None,
    typer.Option(help="Room temperature in degrees Celsius, for the logbook.", show_default=False),
]
MinutesOption = Annotated[
    float | None,
    typer.Option(
        "--minutes-on", help="Minutes since power-on, for the logbook.", show_default=False
    ),
]
SourceOption = Annotated[
    str, typer.Option(help="What plays the notes, for the logbook.", show_default=False)
]
RouteOption = Annotated[
    str,
    typer.Option(
        help="The way of the control voltage to the oscillator, for the logbook.",
        show_default=False,
    ),
]
ResumeOption = Annotated[
    bool, typer.Option("--resume", help="Go on with the one that was stopped.")
]
AfreshOption = Annotated[
    bool, typer.Option("--afresh", help="Begin afresh; forget the one that was stopped.")
]
WhenOption = Annotated[
    str,
    typer.Option(
        help='When it was measured, such as "2024-03-01 18:00"; now unless said.',
        show_default=False,
    ),
]


def conditions(
    temperature_c: float | None = None,
    minutes_on: float | None = None,
    source: str = "",
    route: str = "",
    reference: str = "",
) -> Conditions:
    """What something was measured under, refused where it cannot be."""
    from pitchwright.procedures.circumstances import Conditions

    return Conditions(temperature_c, minutes_on, source, route, reference).checked()


def chosen_state(word: str) -> SurveyState:
    """The state that a person named: found, left or check (or as found, as left)."""
    from pitchwright.procedures.circumstances import SurveyState

    given = word.casefold().replace("-", " ").removeprefix("as ").strip()
    for state in SurveyState:
        if state.value.removeprefix("as ") == given:
            return state
    raise InputError(f"A survey is not “{word[:40]}”", "--state", "Say found, left or check")


def chosen_time(text: str) -> datetime | None:
    """The moment that a person named, on this computer's clock; None for now."""
    if not text:
        return None
    try:
        when = datetime.fromisoformat(text).astimezone()
    except (ValueError, OverflowError):
        raise InputError(
            f"“{text[:40]}” is not a date", "--when", "Write it like 2024-03-01 18:00"
        ) from None
    if when > datetime.now().astimezone():
        raise InputError("That is yet to come", f"--when {text}", "Check the date")
    return when


def recorder(logbook: str, *, practice: bool = False, aside: Path | None = None) -> Recorder:
    """Open the logbook to be written into; a sentence on stderr where that cannot be."""
    from pitchwright.cli import console
    from pitchwright.upkeep import Recorder

    return Recorder(logbook, practice=practice, warn=console.warning, aside=aside)


def announce_and_record(
    outcome: Happening,
    logbook: str,
    *,
    name: str,
    settings: dict[str, object],
    oscillators: Sequence[str] = (),
    practice: bool = False,
    say: bool = True,
) -> None:
    """Write down what was worked out without a bench; ``say`` whether to tell where."""
    from pitchwright.bench.runner import announce

    with recorder(logbook, practice=practice) as written:
        announce(outcome, (written.follow(oscillators),), name=name, settings=settings)
        if say:
            say_where(written)


def say_where(written: Recorder) -> None:
    """Say where it was written down; nothing where that was said before or nothing was."""
    from pitchwright.cli import console

    if not written.where or written.turned_aside:
        return
    if written.practice:
        console.sentence(
            f"Practice is written down in a logbook of its own: {written.where} "
            "(pitchwright log --practice)."
        )
    else:
        console.sentence(f"Written down in the logbook: {written.where} (pitchwright log).")


def go_on_with(
    written: Recorder, oscillator: str, *, resume: bool, afresh: bool
) -> Stopped[TrimSettings] | None:
    """The stopped trim of an oscillator that is to be gone on with; None to begin afresh.

    Where neither was asked for and a person is at the keyboard, the person chooses.
    """
    from pitchwright.upkeep import stopped_trims

    stopped = () if written.logbook is None else stopped_trims(written.logbook, oscillator)
    return _chosen(written, f"trim of {oscillator}", stopped, resume=resume, afresh=afresh)


def go_on_with_survey(
    written: Recorder, oscillators: Sequence[str], *, resume: bool, afresh: bool
) -> Stopped[SurveySettings] | None:
    """The stopped survey of these oscillators that is to be gone on with, as `go_on_with`."""
    from pitchwright.upkeep import stopped_surveys

    stopped = () if written.logbook is None else stopped_surveys(written.logbook, oscillators)
    what = f"survey of {', '.join(oscillators)}"
    return _chosen(written, what, stopped, resume=resume, afresh=afresh)


def _chosen(
    written: Recorder,
    what: str,
    stopped: Sequence[Stopped[Settings]],
    *,
    resume: bool,
    afresh: bool,
) -> Stopped[Settings] | None:
    import sys

    from pitchwright.cli import console
    from pitchwright.upkeep import give_up

    if resume and afresh:
        raise InputError("--resume and --afresh cannot both be", do="Choose one of them")
    if not stopped or written.logbook is None:
        if resume:
            raise InputError(
                f"There is no unfinished {what} from the last twelve hours",
                written.where,
                "Leave --resume out to begin one",
            )
        return None
    newest = stopped[0]
    found = f"An unfinished {what} from {_clock(newest.begun_at_utc)} is here"
    if resume:
        return newest
    if not afresh:
        if not sys.stdin.isatty():
            console.note(f"{found}; --resume goes on with it, --afresh forgets it.")
            return None
        answer = console.ask(f"{found}: go on? [Y/n] ").casefold()
        if answer in ("", "y", "yes"):
            return newest
    for one in stopped:
        give_up(written.logbook, one.run, "begun afresh")
    return None


def _clock(at_utc: str) -> str:
    """The time of an entry on this computer's clock, with the date where that is not today's."""
    at = datetime.fromisoformat(at_utc).astimezone()
    today = datetime.now().astimezone().date()
    return f"{at:%H:%M}" if at.date() == today else f"{at:%H:%M} on {at.date().isoformat()}"
