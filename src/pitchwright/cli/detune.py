"""``pitchwright detune``: target curves that beat as wanted, and how far today is from them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pitchwright.cli.options import A4Option, JsonOption
from pitchwright.cli.recorded import LogbookOption
from pitchwright.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pitchwright.detune import DetunePlan, Distance
    from pitchwright.tracking import TargetCurve

__all__ = ["detune"]


def detune(
    low: Annotated[str, typer.Option(help="Lowest note of the range.")] = "C2",
    high: Annotated[str, typer.Option(help="Highest note of the range.")] = "C5",
    cents: Annotated[
        float | None, typer.Option(help="The same cents at every note.", show_default=False)
    ] = None,
    beats: Annotated[
        float | None,
        typer.Option(
            help="Beats per second, as even as can be: the slowest wanted.", show_default=False
        ),
    ] = None,
    at: Annotated[
        list[str] | None,
        typer.Option(help="Beats per second at a note, C2=0.5; give it twice.", show_default=False),
    ] = None,
    high_end: Annotated[
        bool, typer.Option("--high-end", help="A high-end trimmer may help even beats.")
    ] = False,
    names: Annotated[
        str,
        typer.Option(
            help="The oscillators, leader first, with commas. Only a plan for named ones goes into "
            "the logbook.  [default: leader, follower]",
            show_default=False,
        ),
    ] = "",
    positions: Annotated[
        str,
        typer.Option(help="Where each stands, with commas; 0,1,2 for three.", show_default=False),
    ] = "",
    interval: Annotated[str, typer.Option(help="To the leader, 3:2 for a fifth.")] = "1:1",
    a4: A4Option = 440.0,
    today: Annotated[
        list[Path] | None,
        typer.Option(
            help="Tables of today's readings, one for each oscillator in the order of --names.",
            show_default=False,
        ),
    ] = None,
    csv: Annotated[
        Path | None,
        typer.Option(help="Write targets and beats, note by note, to CSV.", show_default=False),
    ] = None,
    as_leader_is: Annotated[
        bool,
        typer.Option(
            "--as-leader-is",
            help="In the CSV, count from the leader's curve of --today, not from equal "
            "temperament.",
        ),
    ] = False,
    chart: Annotated[
        Path | None,
        typer.Option(help="Draw beats and offsets, note by note, here (SVG).", show_default=False),
    ] = None,
    as_json: JsonOption = False,
    logbook: LogbookOption = "",
) -> None:
    """Plan a detune: constant cents, beats at two notes, or beats as even as trimmers allow."""
    from pitchwright.certificate.plain_record import plain_record
    from pitchwright.cli import console
    from pitchwright.cli.options import checked_a4
    from pitchwright.cli.recorded import announce_and_record
    from pitchwright.pictures.detune_chart import detune_svg
    from pitchwright.procedures.worked_out import DetunePlanned
    from pitchwright.writing import write_whole

    voices = [name.strip() for name in (names or "leader,follower").split(",")]
    plan = _plan(
        low, high, cents, beats, at or [], high_end, voices, positions, interval, checked_a4(a4)
    )
    away = _away(plan, voices, today) if today else ()
    if as_leader_is and not today:
        raise InputError("--as-leader-is needs the leader's readings", do="Give --today as well")
    if csv is not None:
        _write(csv, plan, _leader(voices[0], today[0]) if as_leader_is and today else None)
    if chart is not None:
        write_whole(chart, detune_svg(plan, away))
    if as_json:
        console.print_json(
            {
                "schema": "pitchwright detune 1",
                "plan": plain_record(plan),
                "today": plain_record(away),
            }
        )
    else:
        _tell(plan, away, csv, chart)
    if names:
        if not as_json:
            _tell_how_to_trim(plan, csv)
        announce_and_record(
            DetunePlanned(plan, away),
            logbook,
            name="detune",
            settings={"a4_hz": a4},
            oscillators=voices,
            say=not as_json,
        )


def _tell(plan: DetunePlan, away: Sequence[Distance], csv: Path | None, chart: Path | None) -> None:
    from pitchwright.cli import console
    from pitchwright.cli.console import number
    from pitchwright.units import note_name

    for sentence in plan.sentences:
        console.sentence(sentence)
    console.gap()
    shown = [n for n, note in enumerate(plan.notes) if note % 12 == 0 or note == plan.notes[-1]]
    names_of_notes = [note_name(plan.notes[n]) for n in shown]
    console.table(
        ("cents", *names_of_notes),
        [
            (voice.name, *(number(voice.cents[n], 2, sign=True) for n in shown))
            for voice in plan.voices
        ],
    )
    console.gap()
    console.table(
        ("beats a second", *names_of_notes),
        [
            (
                f"{pair.lower} and {pair.upper}",
                *(number(abs(pair.beats_hz[n]), 2) for n in shown),
            )
            for pair in plan.pairs
        ],
    )
    console.gap()
    for voice in plan.voices[1:]:
        parts = [f"{number(voice.base_cents, 2, sign=True)} cents at middle C"]
        if voice.scale_cents_per_oct:
            parts.append(f"{number(voice.scale_cents_per_oct, 2, sign=True)} cents per octave")
        if voice.high_cents_per_khz:
            parts.append(f"{number(voice.high_cents_per_khz, 2, sign=True)} cents per kHz")
        console.sentence(f"{voice.name}: {', '.join(parts)}.")
    for warning in plan.warnings:
        console.warning(warning)
    for one in away:
        console.sentence(one.sentence)
    for path in (csv, chart):
        if path is not None:
            console.sentence(f"Written: {path}")


def _tell_how_to_trim(plan: DetunePlan, csv: Path | None) -> None:
    from pitchwright.cli import console
    from pitchwright.units import note_name

    low, high = (note_name(plan.notes[end]) for end in (0, -1))
    before = "" if csv else ", write the targets with --csv FILE"
    console.sentence(
        f"To trim to it{before}: pitchwright trim {plan.voices[1].name} --target {csv or 'FILE'} "
        f"--low {low} --high {high}"
    )


def _plan(
    low: str,
    high: str,
    cents: float | None,
    beats: float | None,
    at: list[str],
    high_end: bool,
    names: list[str],
    positions: str,
    interval: str,
    a4_hz: float,
) -> DetunePlan:
    from pitchwright.detune import Interval, constant, even, two_notes
    from pitchwright.units import parse_note

    if (cents is not None) + (beats is not None) + bool(at) != 1:
        raise InputError(
            "Give one of --cents, --beats and --at", do="See pitchwright detune --help"
        )
    first, last = parse_note(low), parse_note(high)
    upper, _, lower = interval.partition(":")
    if not (upper.isdecimal() and lower.isdecimal()):
        raise InputError(f"“{interval[:40]}” is not an interval", "--interval", "Write it as 3:2")
    between = Interval(int(upper), int(lower))
    places = [_number(part, "--positions") for part in positions.split(",")] if positions else None
    if cents is not None:
        return constant(cents, first, last, names, places, between, a4_hz)
    if beats is not None:
        return even(beats, first, last, names, places, between, a4_hz, high_end=high_end)
    if len(at) != 2:
        raise InputError("--at is needed twice", "--at", "Give it for two notes, such as C2=0.5")
    pairs = []
    for text in at:
        note, _, rate = text.partition("=")
        pairs.append((parse_note(note), _number(rate, "--at")))
    return two_notes(pairs[0], pairs[1], first, last, names, places, between, a4_hz)


def _number(text: str, where: str) -> float:
    try:
        return float(text)
    except ValueError as fault:
        raise InputError(f"“{text[:40]}” is not a number", where, "Write a figure") from fault


def _away(plan: DetunePlan, names: list[str], tables: list[Path]) -> tuple[Distance, ...]:
    from pitchwright.bench.table import read_table
    from pitchwright.detune import distance
    from pitchwright.procedures.outcomes import SurveyClosed
    from pitchwright.procedures.surveyed import surveyed

    if len(tables) != len(names):
        raise InputError(
            f"There are {len(tables)} tables for {len(names)} oscillators",
            "--today",
            "Give one for each, in the order of --names",
        )
    return distance(
        plan,
        {
            name: surveyed(
                SurveyClosed(name, read_table(table, oscillator=name).points)
            ).curve.entries
            for name, table in zip(names, tables, strict=True)
        },
    )


def _leader(name: str, table: Path) -> TargetCurve:
    """The leader's curve as it is today."""
    from pitchwright.bench.table import read_table
    from pitchwright.procedures.surveyed import curve_followed

    return curve_followed(name, read_table(table, oscillator=name).points, same_take=False)


def _write(path: Path, plan: DetunePlan, leader: TargetCurve | None) -> None:
    """Targets and beats, note by note: what ``trim --target`` reads."""
    from pitchwright.certificate.csv_table import write_csv
    from pitchwright.units import note_name

    headings = [
        "note",
        *(f"{voice.name} cents" for voice in plan.voices),
        *(f"{pair.lower}-{pair.upper} beats_hz" for pair in plan.pairs),
    ]
    rows: list[tuple[str | float, ...]] = []
    for n, note in enumerate(plan.notes):
        if leader is not None and not leader.notes[0] <= note <= leader.notes[-1]:
            continue
        # The plan's leader is at nothing from its pitch of A4; the real one is where it is.
        more = 0.0 if leader is None else leader.cents_at(note) - plan.voices[0].cents[n]
        rows.append(
            (
                note_name(note),
                *(voice.cents[n] + more for voice in plan.voices),
                *(pair.beats_hz[n] for pair in plan.pairs),
            )
        )
    if not rows:
        raise InputError(
            "The leader was not measured in the plan's range", "--today", "Survey it there"
        )
    write_csv(path, headings, rows)
