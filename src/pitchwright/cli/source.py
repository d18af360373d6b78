"""``pitchwright source``: a source as the thing that is surveyed and trimmed."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pitchwright.cli.options import BenchOption, EventsOption
from pitchwright.cli.recorded import LogbookOption
from pitchwright.errors import InputError

__all__ = ["source"]


def source(
    name: Annotated[
        str, typer.Argument(help="The source: a keyboard, a sequencer, a converter.")
    ] = "Loft",
    volts: Annotated[
        Path | None,
        typer.Option(
            help="Survey it from this table of its voltages: note,cv_v.", show_default=False
        ),
    ] = None,
    heard: Annotated[
        Path | None,
        typer.Option(
            help="Survey it from this table of a trusted oscillator that it plays: note,f_hz.",
            show_default=False,
        ),
    ] = None,
    by: Annotated[
        str,
        typer.Option(
            help="Trim it: by “meter”, a voltmeter that you read, or by the name of a trusted "
            "oscillator that it plays.",
            show_default=False,
        ),
    ] = "",
    known: Annotated[
        Path | None,
        typer.Option(
            help="The trusted oscillator's own curve, from a source known to be right (note,cents; "
            "note,f_hz; or survey --csv).  [default: taken as right]",
            show_default=False,
        ),
    ] = None,
    practice: Annotated[
        bool, typer.Option("--practice", help="On the practice rig; you turn, at the keyboard.")
    ] = False,
    hand: Annotated[
        bool, typer.Option("--hand", help="On the practice rig; a simulated hand turns.")
    ] = False,
    low: Annotated[str, typer.Option(help="Lowest note that matters.")] = "C1",
    high: Annotated[str, typer.Option(help="Highest note that matters.")] = "C6",
    tolerance: Annotated[float, typer.Option(help="Tolerance either way, in cents.")] = 1.0,
    meter_mv: Annotated[
        float, typer.Option(help="Standard uncertainty of one voltage, in millivolts.")
    ] = 0.1,
    meter_gain: Annotated[
        float,
        typer.Option(
            help="Standard uncertainty of the meter's gain, in percent; 0.5 is 6 cents per octave."
        ),
    ] = 0.0,
    seed: Annotated[int, typer.Option(help="Practice: another number, another hand.")] = 1,
    sheet: Annotated[
        Path | None,
        typer.Option(help="Draw the source's own curve here (SVG).", show_default=False),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Survey: print JSON.")] = False,
    bench: BenchOption = None,
    events: EventsOption = None,
    logbook: LogbookOption = "",
) -> None:
    """Survey a source itself, or trim its base and scale as an oscillator's are trimmed.

    A voltmeter shows a source's own curve directly: a millivolt is 1.2 cents. A trusted oscillator,
    whose own curve is known, does as well. A control voltage is DC: never to a loudspeaker,
    headphone or power amplifier.
    """
    from pitchwright.cli.sourcing import survey_source, trim_source
    from pitchwright.units import parse_note

    surveys = [table for table in (volts, heard) if table is not None]
    trims = bool(by) or practice or hand
    if len(surveys) + trims != 1:
        raise InputError(
            "Give one of --volts and --heard to survey it, or --by to trim it",
            do="See pitchwright source --help",
        )
    if surveys:
        survey_source(
            name,
            volts=volts,
            heard=heard,
            known=known,
            meter_mv=meter_mv,
            meter_gain_percent=meter_gain,
            sheet=sheet,
            as_json=as_json,
        )
        return
    trim_source(
        name,
        by=by or "meter",
        known=known,
        practice=practice,
        hand=hand,
        low=parse_note(low),
        high=parse_note(high),
        tolerance_cents=tolerance,
        meter_mv=meter_mv,
        meter_gain_percent=meter_gain,
        seed=seed,
        bench_file=bench,
        events=events,
        logbook=logbook,
    )
