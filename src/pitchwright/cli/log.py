"""``pitchwright log``: what was done when, how an instrument changed, who is due."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pitchwright.cli import log_care, log_notes
from pitchwright.cli.log_options import LogbookChoice, PracticeOption, opened
from pitchwright.cli.options import JsonOption
from pitchwright.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from pitchwright.logbook.history import Due, SurveyRow
    from pitchwright.stability.years import ControlLimits, DriftRate
    from pitchwright.upkeep.diary import Line

__all__ = ["app"]

_BESIDES = 20
"""Lines of what was done beside surveys that a history ends with."""

NameArgument = Annotated[str, typer.Argument(help="Which instrument.", show_default=False)]
ToleranceOption = Annotated[
    float, typer.Option(help="Greatest error allowed at the far end, in cents.")
]
OctavesOption = Annotated[
    float, typer.Option(help="From middle C to the far end of the range that matters.")
]

app = typer.Typer(
    help="The logbook: what was done when, how instruments changed, which is due next.",
)


@app.callback(invoke_without_command=True)
def diary(
    context: typer.Context,
    instrument: Annotated[
        str, typer.Option(help="Only what is about this one.", show_default=False)
    ] = "",
    most: Annotated[int, typer.Option(help="How many of the newest lines.", min=1)] = 40,
    as_json: JsonOption = False,
    logbook: LogbookChoice = "",
    practice: PracticeOption = False,
) -> None:
    """Show what was done when; the other log commands look closer, or look after the logbook."""
    if context.invoked_subcommand is not None:
        return
    from dataclasses import asdict

    from pitchwright.cli import console
    from pitchwright.cli.shown import local, shown
    from pitchwright.logbook.history import find_instrument
    from pitchwright.upkeep.diary import diary

    with opened(logbook, practice) as book:
        about = find_instrument(book, instrument).uid if instrument else None
        lines = diary(book, instrument=about, most=most)
        where = book.where
    if as_json:
        console.print_json(
            {
                "schema": "pitchwright log 1",
                "lines": [asdict(line) for line in lines],
            }
        )
        return
    if not lines:
        console.sentence(f"The logbook is empty: {where}. Survey an instrument and it is in it.")
        return
    day = ""
    for line in lines:
        at = local(line.at_utc)
        if f"{at:%Y-%m-%d}" != day:
            day = f"{at:%Y-%m-%d}"
            console.heading(f"{at:%A}, {day}")
        about_it = f"{shown(line.instrument)}, " if line.instrument else ""
        words = f": {shown(line.words, most=400)}" if line.words else ""
        gone = " (withdrawn)" if line.withdrawn else ""
        console.sentence(
            f"{at:%H:%M}  {about_it}{line.what}{gone}{words}  [{line.uid[:8]}]", indent=2
        )


@app.command()
def history(
    name: NameArgument,
    tolerance: ToleranceOption = 1.0,
    octaves: OctavesOption = 3.0,
    as_json: JsonOption = False,
    logbook: LogbookChoice = "",
    practice: PracticeOption = False,
) -> None:
    """Show an instrument's surveys over the years, how fast it drifts, and when it is due."""
    from dataclasses import asdict

    from pitchwright.cli import console
    from pitchwright.cli.shown import shown
    from pitchwright.logbook.history import due_of, find_instrument, rates
    from pitchwright.logbook.history import history as surveys_of
    from pitchwright.procedures.circumstances import SurveyState
    from pitchwright.stability.years import control_limits
    from pitchwright.upkeep.diary import diary

    _check_range(tolerance, octaves)
    with opened(logbook, practice) as book:
        known = find_instrument(book, name)
        surveys = surveys_of(book, known.uid)
        besides = diary(book, instrument=known.uid, most=_BESIDES, surveys=False)
    drift = rates(surveys)
    next_time = due_of(known, surveys, tolerance_cents=tolerance, octaves=octaves)
    met = [row for row in surveys if row.state is not SurveyState.AS_LEFT]
    bases = [row for row in met if row.base_cents is not None]
    limits = control_limits([row.base_cents or 0.0 for row in bases])
    if as_json:
        console.print_json(
            {
                "schema": "pitchwright history 1",
                "instrument": {"uid": known.uid, "name": known.name},
                "surveys": [asdict(row) for row in surveys],
                "drift_per_month": {
                    figure: {
                        "per_month": rate.per_month,
                        "expanded": rate.expanded,
                        "intervals": rate.intervals,
                    }
                    for figure, rate in drift.items()
                },
                "base_limits": None if limits is None else [limits.low, limits.high],
                "due": _due_record(next_time),
                "besides": [asdict(line) for line in besides],
            }
        )
        return
    console.heading(f"{shown(known.name)}: {len(surveys)} survey{'' if len(surveys) == 1 else 's'}")
    if surveys:
        _tell_surveys(surveys, drift)
        if limits is not None:
            _tell_limits(limits, bases)
        console.sentence(f"Due: {_due_words(next_time)}. {next_time.reason}")
    else:
        console.sentence("Nothing was surveyed yet.")
    _tell_besides(besides)


@app.command()
def changes(
    name: NameArgument,
    as_json: JsonOption = False,
    logbook: LogbookChoice = "",
    practice: PracticeOption = False,
) -> None:
    """Say what has changed since last time, and whether that is more than the uncertainty."""
    from dataclasses import asdict

    from pitchwright.cli import console
    from pitchwright.cli.shown import local, shown
    from pitchwright.logbook.history import changes as changes_between
    from pitchwright.logbook.history import find_instrument, since_last_time
    from pitchwright.logbook.history import history as surveys_of

    with opened(logbook, practice) as book:
        known = find_instrument(book, name)
        surveys = surveys_of(book, known.uid)
    pairs = since_last_time(surveys)
    if as_json:
        console.print_json(
            {
                "schema": "pitchwright changes 1",
                "instrument": {"uid": known.uid, "name": known.name},
                "pairs": [
                    {
                        "before": asdict(before),
                        "after": asdict(after),
                        "changes": [asdict(change) for change in changes_between(before, after)],
                    }
                    for before, after in pairs
                ],
            }
        )
        return
    console.heading(shown(known.name))
    if not pairs:
        console.sentence(
            f"{len(surveys)} survey{'' if len(surveys) == 1 else 's'} so far: it takes two to see "
            "a change."
        )
    for before, after in pairs:
        console.sentence(
            f"From {local(before.at_utc):%Y-%m-%d} ({before.state}) to "
            f"{local(after.at_utc):%Y-%m-%d} ({after.state}):"
        )
        found = changes_between(before, after)
        for change in found:
            console.sentence(change.sentence, indent=2)
        if not found:
            console.sentence("The two have no figure in common.", indent=2)


@app.command()
def due(
    tolerance: ToleranceOption = 1.0,
    octaves: OctavesOption = 3.0,
    as_json: JsonOption = False,
    logbook: LogbookChoice = "",
    practice: PracticeOption = False,
) -> None:
    """Say which instrument is due next, from its own drift, and why."""
    from pitchwright.cli import console
    from pitchwright.cli.shown import shown
    from pitchwright.logbook.history import due as due_of_all

    _check_range(tolerance, octaves)
    with opened(logbook, practice) as book:
        found = due_of_all(book, tolerance_cents=tolerance, octaves=octaves)
    if as_json:
        console.print_json(
            {"schema": "pitchwright due 1", "instruments": [_due_record(one) for one in found]}
        )
        return
    if not found:
        console.sentence("No instrument is in the logbook yet.")
    for one in found:
        console.heading(f"{shown(one.name)}: {_due_words(one)}")
        console.sentence(one.reason, indent=2)


@app.command()
def chart(
    name: NameArgument,
    out: Annotated[
        Path | None,
        typer.Option(help="The SVG file.  [default: beside you, a new one]", show_default=False),
    ] = None,
    tolerance: ToleranceOption = 1.0,
    octaves: OctavesOption = 3.0,
    logbook: LogbookChoice = "",
    practice: PracticeOption = False,
) -> None:
    """Draw an instrument's years: scale, high end, base and reach, survey by survey."""
    from pitchwright.cli import console
    from pitchwright.cli.options import file_name
    from pitchwright.cli.shown import shown
    from pitchwright.upkeep.certifying import history_chart
    from pitchwright.writing import free_path, write_whole

    _check_range(tolerance, octaves)
    with opened(logbook, practice) as book:
        picture = history_chart(book, name, tolerance_cents=tolerance, octaves=octaves)
    path = out or free_path(Path(f"{file_name(name)}-history.svg"))
    write_whole(path, picture)
    console.sentence(f"The history of {shown(name)} is in {path}.")


@app.command()
def compare(
    name: NameArgument,
    out: Annotated[
        Path | None,
        typer.Option(help="The SVG file.  [default: beside you, a new one]", show_default=False),
    ] = None,
    tolerance: ToleranceOption = 1.0,
    logbook: LogbookChoice = "",
    practice: PracticeOption = False,
) -> None:
    """Draw the newest survey over the one before it, and say what moved for certain."""
    from pitchwright.cli import console
    from pitchwright.cli.options import file_name
    from pitchwright.cli.shown import shown
    from pitchwright.upkeep.comparing import compare as compare_surveys
    from pitchwright.writing import free_path, write_whole

    _check_range(tolerance, 3.0)
    with opened(logbook, practice) as book:
        compared = compare_surveys(book, name, tolerance_cents=tolerance)
    path = out or free_path(Path(f"{file_name(name)}-compared.svg"))
    write_whole(path, compared.svg)
    console.sentence(f"{shown(name)}: {compared.sentence}")
    if compared.unlike:
        console.sentence(compared.unlike)
    console.sentence(f"The two surveys over each other are in {path}.")


def _check_range(tolerance: float, octaves: float) -> None:
    if not (tolerance > 0.0 and octaves > 0.0):
        raise InputError("Tolerance and octaves must be above zero", do="Give for example 1 and 3")


def _tell_surveys(surveys: Sequence[SurveyRow], drift: Mapping[str, DriftRate]) -> None:
    """Show the figures of all surveys, and what they drift by."""
    from pitchwright.cli import console

    console.table(
        ("when", "state", "base", "scale", "high end", "reach", ""),
        [_survey_cells(row) for row in surveys],
        left=2,
    )
    console.gap()
    console.sentence(
        "Base in cents, scale in cents per octave, high end in cents per kHz, each ± expanded "
        "uncertainty (k = 2); reach at its tolerance."
    )
    for figure, rate in drift.items():
        unit = "cents per octave" if figure == "scale" else "cents per kHz"
        console.sentence(
            f"{figure.capitalize()} drifts by {console.number(rate.per_month, 3, sign=True)} ± "
            f"{console.number(rate.expanded, 3)} {unit} a month, from as left to as found, over "
            f"{rate.intervals} interval{'' if rate.intervals == 1 else 's'}."
        )


def _tell_limits(limits: ControlLimits, bases: Sequence[SurveyRow]) -> None:
    """Say between which limits base varies by chance, and when it did not."""
    from pitchwright.cli import console

    outside = ", ".join(f"{bases[i].at_utc[:10]}" for i in limits.outside)
    console.sentence(
        f"Base as found varies between {console.number(limits.low, 2, sign=True)} and "
        f"{console.number(limits.high, 2, sign=True)} cents by chance alone; "
        + (f"outside of that: {outside}." if outside else "no survey lies outside.")
    )


def _tell_besides(besides: Sequence[Line]) -> None:
    """Say what else was done: trims, warm-ups, routes, planned detunes, corrections, notes."""
    from pitchwright.cli import console
    from pitchwright.cli.shown import local, shown

    if besides:
        console.gap()
        console.sentence("Besides:")
    for line in besides:
        gone = " (withdrawn)" if line.withdrawn else ""
        words = f": {shown(line.words, most=400)}" if line.words else ""
        console.sentence(f"{local(line.at_utc):%Y-%m-%d}  {line.what}{gone}{words}", indent=2)


def _survey_cells(row: SurveyRow) -> tuple[str, ...]:
    from pitchwright.cli import console
    from pitchwright.cli.shown import local
    from pitchwright.units import note_name

    def figure(amount: float | None, u: float | None) -> str:
        from pitchwright.tracking.coverage import expanded_u

        if amount is None or u is None:
            return "unknown"
        return f"{console.number(amount, 2, sign=True)} ± {console.number(expanded_u(u), 2)}"

    if row.reach_low is None or row.reach_high is None:
        reach = "none"
    else:
        reach = f"{note_name(row.reach_low)}–{note_name(row.reach_high)}"
    if row.tolerance_cents is not None:
        reach += f" ±{row.tolerance_cents:g}"
    return (
        f"{local(row.at_utc):%Y-%m-%d}",
        row.state.value,
        figure(row.base_cents, row.u_base_cents),
        figure(row.scale_cents_per_oct, row.u_scale_cents_per_oct),
        figure(row.high_cents_per_khz, row.u_high_cents_per_khz),
        reach,
        "" if row.temperature_c is None else f"{row.temperature_c:g} °C",
    )


def _due_words(due: Due) -> str:
    if due.earliest is None:
        return "not in sight" if due.reason.startswith("Not in sight") else "unknown"
    if due.earliest <= date.today():
        return f"now (since {due.earliest.isoformat()})"
    if due.expected is None or due.expected == due.earliest:
        return f"{due.earliest.isoformat()}"
    return f"{due.earliest.isoformat()} at the earliest, {due.expected.isoformat()} as it drifts"


def _due_record(due: Due) -> dict[str, str | None]:
    return {
        "uid": due.uid,
        "name": due.name,
        "expected": None if due.expected is None else due.expected.isoformat(),
        "earliest": None if due.earliest is None else due.earliest.isoformat(),
        "reason": due.reason,
    }


log_notes.add_to(app)
log_care.add_to(app)
