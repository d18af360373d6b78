"""``pitchwright warmup``: is it warm, when will it be, and how steady can it get."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pitchwright.cli.options import A4Option, BenchOption, EventsOption, JsonOption
from pitchwright.cli.recorded import LogbookOption
from pitchwright.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pitchwright.cli.warming import Separated, Watched
    from pitchwright.stability.history import History

__all__ = ["warmup"]

_RECORDINGS = frozenset({".wav", ".flac", ".aif", ".aiff"})


def warmup(
    file: Annotated[
        Path | None,
        typer.Argument(
            help="A history: a CSV with t_s (or time), a column such as “Heron f_hz” or “Heron "
            "cents” for each oscillator, temperature_c and note if known; or a long recording of "
            "a held note, one oscillator a channel.",
            show_default=False,
        ),
    ] = None,
    practice: Annotated[
        bool,
        typer.Option("--practice", help="Instead of a file: watch the practice rig from power-on."),
    ] = False,
    tolerance: Annotated[
        float, typer.Option(help="How many cents it may still move, once it is called ready.")
    ] = 1.0,
    minutes: Annotated[float, typer.Option(help="Within how many minutes from then.")] = 30.0,
    every: Annotated[
        float, typer.Option(help="Seconds from reading to reading, where there is no table.")
    ] = 10.0,
    longest: Annotated[
        float, typer.Option(help="Watching: stop after so many minutes, warm or not.")
    ] = 240.0,
    go_on: Annotated[
        bool, typer.Option("--go-on", help="Watching: go on when all are ready.")
    ] = False,
    notes: Annotated[
        str, typer.Option(help="Watching: the note held, or two that take turns: “C2, C6”.")
    ] = "C4",
    names: Annotated[
        str, typer.Option(help="Names of a recording's channels, with commas.", show_default=False)
    ] = "",
    only: Annotated[
        str, typer.Option(help="Only these oscillators, with commas.", show_default=False)
    ] = "",
    a4: A4Option = 440.0,
    chart: Annotated[
        Path | None,
        typer.Option(
            help="Where the chart (SVG) goes; with several oscillators their names are added.  "
            "[default: beside you, a new file each time]",
            show_default=False,
        ),
    ] = None,
    csv: Annotated[
        Path | None,
        typer.Option(
            help="Watching: write all readings here, a table to read again.", show_default=False
        ),
    ] = None,
    no_chart: Annotated[bool, typer.Option("--no-chart", help="Write no chart.")] = False,
    as_json: JsonOption = False,
    bench: BenchOption = None,
    events: EventsOption = None,
    logbook: LogbookOption = "",
) -> None:
    """Say of each oscillator whether it is warm, when it will be, and how far it wanders anyway.

    Without a file it watches live, as the bench file says (pitchwright bench setup makes one).
    Start right after power-on, or after a case was opened; one note sounds all along. Two notes in
    turn tell base drift from scale drift. With temperatures, what the room does is told apart from
    the warm-up.
    """
    from pitchwright.cli import console
    from pitchwright.cli.options import checked_a4
    from pitchwright.cli.warming import judge_all, separated

    checked_a4(a4)
    if file is not None and practice:
        raise InputError("A file and --practice both", do="See pitchwright warmup --help")
    if file is None:
        history, invented = _watched(
            None if practice else bench,
            practice=practice,
            only=only,
            notes=notes,
            every_s=every,
            longest_s=60.0 * longest,
            until_ready=not go_on,
            tolerance_cents=tolerance,
            horizon_s=60.0 * minutes,
            a4_hz=a4,
            csv=csv,
            logbook=logbook,
            events=events,
        )
    else:
        history, invented = _history(file, every, names, a4), False
        history = _only(history, [name.strip() for name in only.split(",") if name.strip()])
    watched = judge_all(history, tolerance, 60.0 * minutes)
    if file is not None:
        _write_down(watched, logbook)
    split = separated(history)
    place = None if no_chart else chart or Path()
    charts = _write_charts(watched, place, invented) if place is not None else []
    if as_json:
        console.print_json(_record(history, watched, split, charts))
        return
    _tell(history, watched, split, charts)


def _write_down(watched: Sequence[Watched], logbook: str) -> None:
    """Write what a history came to into the logbook; its readings stay in the file."""
    import math

    from pitchwright.cli.recorded import recorder
    from pitchwright.procedures.warmup_watch import forecast_made

    with recorder(logbook) as written:
        for one in watched:
            note = math.nan if one.note is None else one.note
            about = written.instrument(one.oscillator)
            written.write(forecast_made(one.oscillator, note, one.found), instrument=about)


def _watched(
    bench: Path | None,
    *,
    practice: bool,
    only: str,
    notes: str,
    every_s: float,
    longest_s: float,
    until_ready: bool,
    tolerance_cents: float,
    horizon_s: float,
    a4_hz: float,
    csv: Path | None,
    logbook: str,
    events: Path | None,
) -> tuple[History, bool]:
    """Watch the practice rig, or what is connected; and whether that is invented."""
    from pitchwright.cli import console
    from pitchwright.cli.watching import practice_rig, watch_live, watch_practice, write_history
    from pitchwright.procedures.warmup_watch import WatchSettings
    from pitchwright.tracking.align import parse_notes
    from pitchwright.units import NOTE_AT_0_V

    def asked(oscillators: Sequence[str], note_at_0_v: float) -> WatchSettings:
        return WatchSettings(
            tuple(oscillators),
            notes=tuple(map(float, parse_notes(notes))),
            every_s=every_s,
            longest_s=longest_s,
            until_ready=until_ready,
            tolerance_cents=tolerance_cents,
            horizon_s=horizon_s,
            a4_hz=a4_hz,
            note_at_0_v=note_at_0_v,
        )

    if practice:
        rig, oscillators = practice_rig(only)
        settings = asked(oscillators, NOTE_AT_0_V)
        console.note("The practice rig: instrument, values and hours are invented.")
        history = watch_practice(rig, settings, logbook)
        invented = True
    else:
        from pitchwright.cli.live import described_bench

        there = described_bench(bench)
        named = [there.named(name.strip()) for name in only.split(",") if name.strip()]
        settings = asked(named or list(there.oscillator), there.note_at_0_v)
        history = watch_live(there, settings, logbook, events)
        invented = there.invented
    if csv is not None:
        write_history(csv, history)
        console.note(f"All readings: {csv}")
    return history, invented


def _history(file: Path, every_s: float, names: str, a4_hz: float) -> History:
    if file.suffix.lower() in _RECORDINGS:
        from pitchwright.bench.listened_history import listen_history
        from pitchwright.cli import console

        named = [name.strip() for name in names.split(",") if name.strip()]
        with console.progress("Listening") as advance:
            return listen_history(file, every_s, named, advance)
    from pitchwright.bench.history import read_history

    return read_history(file, a4_hz)


def _only(history: History, wanted: Sequence[str]) -> History:
    from dataclasses import replace

    known = {trace.name.casefold(): trace for trace in history.traces}
    for name in wanted:
        if name.casefold() not in known:
            having = ", ".join(trace.name for trace in history.traces)
            raise InputError(f"There is no oscillator called {name}", do=f"Choose from: {having}")
    if not wanted:
        return history
    return replace(history, traces=tuple(known[name.casefold()] for name in wanted))


def _write_charts(watched: Sequence[Watched], place: Path, invented: bool) -> list[Path]:
    from pitchwright.cli.options import file_name
    from pitchwright.pictures.warmup_chart import warmup_svg
    from pitchwright.writing import free_path, write_whole

    paths = []
    for one in watched:
        name = file_name(one.name)
        if place.is_dir():
            path = free_path(place / f"{name}-warm-up.svg")
        elif len(watched) == 1:
            path = place
        else:
            path = place.with_name(f"{place.stem}-{name}{place.suffix or '.svg'}")
        picture = warmup_svg(
            one.name,
            one.t_s,
            one.cents,
            one.found,
            temperature_c=one.temperature_c,
            steadiness=one.steadiness,
            invented=invented,
        )
        write_whole(path, picture)
        paths.append(path)
    return paths


def _tell(
    history: History,
    watched: Sequence[Watched],
    split: dict[str, Separated],
    charts: Sequence[Path],
) -> None:
    from pitchwright.cli import console

    for remark in history.remarks:
        console.warning(remark)
    for place, one in enumerate(watched):
        console.heading(one.name)
        console.sentence(one.found.sentence)
        console.sentence(one.found.why, indent=2)
        if one.steadiness is not None:
            console.sentence(one.steadiness.sentence, indent=2)
            console.sentence(one.steadiness.why, indent=2)
        if one.oscillator in split and one.leads:
            for said in split[one.oscillator].sentences:
                console.sentence(said, indent=2)
        if charts:
            console.sentence(f"Chart: {charts[place]}", indent=2)


def _record(
    history: History,
    watched: Sequence[Watched],
    split: dict[str, Separated],
    charts: Sequence[Path],
) -> dict[str, object]:
    from pitchwright.certificate.plain_record import plain_record
    from pitchwright.cli.warming import record

    oscillators = [record(one) for one in watched]
    for entry, path in zip(oscillators, charts, strict=False):
        entry["chart"] = str(path)
    return {
        "schema": "pitchwright warm-up 1",
        "remarks": list(history.remarks),
        "oscillators": oscillators,
        "base_and_scale": [
            {
                "oscillator": name,
                "sentences": list(one.sentences),
                "base_moved_cents": one.drift.base_moved_cents,
                "u_base_moved_cents": one.drift.u_base_moved_cents,
                "scale_moved_cents_per_oct": one.drift.scale_moved_cents_per_oct,
                "u_scale_moved_cents_per_oct": one.drift.u_scale_moved_cents_per_oct,
                "temperature": plain_record(one.effect),
            }
            for name, one in split.items()
        ],
    }
