"""``pitchwright route``: what a patch does to the control voltage, and what to patch instead."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pitchwright.cli.options import JsonOption
from pitchwright.cli.recorded import LogbookOption
from pitchwright.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pitchwright.bench.route_file import Route
    from pitchwright.route import RouteReport

__all__ = ["route"]

_MOST_PROPOSALS = 3


def route(
    file: Annotated[
        Path | None,
        typer.Argument(
            help="The route, described in TOML; --example shows one.", show_default=False
        ),
    ] = None,
    notes: Annotated[
        str, typer.Option(help="Notes at which volts and cents are wanted.")
    ] = "C1..C7 step 12",
    csv: Annotated[
        Path | None,
        typer.Option(help="Write volts and cents at every note to this CSV.", show_default=False),
    ] = None,
    chart: Annotated[
        Path | None,
        typer.Option(help="Draw cents at every note here (SVG).", show_default=False),
    ] = None,
    example: Annotated[
        bool, typer.Option("--example", help="Print a route file to begin with, and nothing else.")
    ] = False,
    as_json: JsonOption = False,
    logbook: LogbookOption = "",
) -> None:
    """Work out what every oscillator gets, what a pulled cable changes, what to patch instead."""
    from pitchwright.bench.route_file import EXAMPLE, read_route
    from pitchwright.certificate.csv_table import write_csv
    from pitchwright.certificate.plain_record import plain_record
    from pitchwright.cli import console
    from pitchwright.cli.recorded import announce_and_record
    from pitchwright.pictures.route_chart import route_svg
    from pitchwright.procedures.worked_out import route_solved
    from pitchwright.route import report
    from pitchwright.tracking.align import parse_notes
    from pitchwright.units import note_name
    from pitchwright.writing import write_whole

    if example:
        typer.echo(EXAMPLE, nl=False)
        return
    if file is None:
        raise InputError(
            "No route is named", do="pitchwright route --example shows how to write one"
        )
    described = read_route(file)
    found = report(described.patch, parse_notes(notes))
    if chart is not None:
        picture = route_svg(found, name=described.name, invented=described.invented)
        write_whole(chart, picture)
    if csv is not None:
        rows = [
            (one.oscillator, one.source, note_name(note), volts, cents)
            for one in found.deliveries
            for note, volts, cents in zip(one.notes, one.cv_v, one.cents, strict=True)
        ]
        write_csv(csv, ("oscillator", "source", "note", "cv_v", "cents"), rows)
    if as_json:
        console.print_json({"schema": "pitchwright route 1", **plain_record(found)})
    else:
        _tell(described, found, [path for path in (csv, chart) if path is not None])
    announce_and_record(
        route_solved(described.name, found),
        logbook,
        name="route",
        settings={"notes": list(found.deliveries[0].notes)},
        oscillators=[one.oscillator for one in found.deliveries],
        practice=described.invented,
        say=not as_json,
    )


def _tell(described: Route, found: RouteReport, written: Sequence[Path]) -> None:
    from pitchwright.cli import console
    from pitchwright.cli.console import number
    from pitchwright.units import note_name

    if described.name:
        console.heading(f"{described.name}{' (invented)' if described.invented else ''}")
    for sentence in found.sentences:
        console.sentence(sentence)
    console.gap()
    console.table(
        ("oscillator", "way", "cents per octave", *map(note_name, found.deliveries[0].notes)),
        [
            (
                one.oscillator,
                " → ".join(one.way[:-1]),
                number(one.cents_per_octave, 2, sign=True),
                *(number(cents, 1, sign=True) for cents in one.cents),
            )
            for one in found.deliveries
        ],
        left=2,
    )
    console.gap()
    for change in (*found.pulled, *found.added):
        if change.sentence not in found.sentences:
            console.sentence(change.sentence)
    for proposal in found.instead[1:_MOST_PROPOSALS]:
        console.sentence(f"Or {proposal.sentence[0].lower()}{proposal.sentence[1:]}")
    for path in written:
        console.sentence(f"Written: {path}")
