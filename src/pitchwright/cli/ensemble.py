"""``pitchwright ensemble``: whose error it is, who beats with whom, who is fed from what."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["ensemble"]


def ensemble(
    file: Annotated[
        Path, typer.Argument(help="The instrument, described in TOML: its surveys and outputs.")
    ],
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON, for a program.")] = False,
) -> None:
    """Look at all oscillators and sources of an instrument together."""
    from pitchwright.bench.instrument_file import read_instrument
    from pitchwright.certificate.plain_record import plain_record
    from pitchwright.cli import console
    from pitchwright.ensemble import Player, advise, assign, order, overview, whose_error
    from pitchwright.tracking import Point, TargetCurve, survey_oscillator

    with console.progress("Reading the surveys") as advance:
        instrument = read_instrument(file, advance)
    whose = whose_error(instrument.evidence)
    extras = advise(instrument.evidence, whose)
    readings: dict[str, tuple[Point, ...]] = {}
    for sweep in instrument.evidence.sweeps:
        # One curve an oscillator: as the first source that played it.
        readings.setdefault(sweep.oscillator, sweep.points)
    target = TargetCurve.flat(instrument.a4_hz)
    curves = {
        name: survey_oscillator(name, points, target=target).curve.entries
        for name, points in readings.items()
    }
    players = [
        Player(name, entries, *instrument.own_trims.get(name, (0.0, 0.0)))
        for name, entries in curves.items()
    ]
    feeds = assign(players, instrument.outputs, instrument.tolerance_cents)
    glance = (
        overview(curves, instrument.tolerance_cents, instrument.a4_hz) if len(curves) > 1 else None
    )
    leader = glance.leader if glance else players[0].name
    turns = order(feeds, instrument.outputs, leader, whose)
    if as_json:
        console.print_json(
            {
                "schema": "pitchwright ensemble 1",
                "name": instrument.name,
                "invented": instrument.invented,
                "whose": plain_record(whose),
                "extra": plain_record(extras),
                "glance": plain_record(glance),
                "feeds": plain_record(feeds),
                "order": plain_record(turns),
                "remarks": list(instrument.remarks),
            }
        )
        return
    title = instrument.name or file.stem
    console.heading(f"{title}{' (invented)' if instrument.invented else ''}")
    parts = (
        ("At a glance", glance.sentences if glance else ()),
        ("Whose error is it?", whose.sentences),
        ("What would settle it", tuple(extra.sentence for extra in extras)),
        ("Which output for whom", tuple(feed.sentence for feed in feeds)),
        ("In this order", tuple(f"{n}. {turn.sentence}" for n, turn in enumerate(turns, 1))),
        ("About the files", instrument.remarks),
    )
    for heading, sentences in parts:
        if sentences:
            console.heading(heading)
            for sentence in sentences:
                console.sentence(sentence)
