"""``pitchwright ensemble``: whose error it is, who beats with whom, who is fed from what."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pitchwright.cli.options import A4Option, BenchOption, EventsOption, JsonOption
from pitchwright.cli.recorded import LogbookOption
from pitchwright.errors import InputError

if TYPE_CHECKING:
    from pitchwright.cli.looking import Looked
    from pitchwright.practice import Trimmer

__all__ = ["ensemble"]


def ensemble(
    file: Annotated[
        Path | None,
        typer.Argument(
            help="The instrument, described in TOML: its surveys and outputs; --example shows one.",
            show_default=False,
        ),
    ] = None,
    practice: Annotated[bool, typer.Option("--practice", help="Check the practice rig.")] = False,
    only: Annotated[
        str,
        typer.Option(
            help="Checking: only these oscillators, with commas.  [default: all]",
            show_default=False,
        ),
    ] = "",
    sources: Annotated[
        str,
        typer.Option(
            help="Checking: what plays them, one after another, with commas.  [default: the "
            "bench's, or Loft, Stairs]",
            show_default=False,
        ),
    ] = "",
    notes: Annotated[str, typer.Option(help="Checking: the notes played.")] = "C1..C7 step 6",
    tolerance: Annotated[
        float, typer.Option(help="Checking: tolerance either way, in cents.")
    ] = 1.0,
    a4: A4Option = 440.0,
    chart: Annotated[
        Path | None,
        typer.Option(
            help="Draw all curves and beats here (SVG), and whose error it is beside it, "
            "“-whose-error” added to the name.",
            show_default=False,
        ),
    ] = None,
    example: Annotated[
        bool,
        typer.Option("--example", help="Print an instrument file to begin with, and nothing else."),
    ] = False,
    as_json: JsonOption = False,
    bench: BenchOption = None,
    events: EventsOption = None,
    logbook: LogbookOption = "",
) -> None:
    """Look at all oscillators and sources of an instrument together.

    A file says which surveys, which tolerance and which pitch. Without one, all oscillators are
    heard at once, note by note, live as the bench file says, or on the practice rig.
    """
    from pitchwright.cli import console
    from pitchwright.cli.looking import record, tell
    from pitchwright.cli.options import checked_a4

    if example:
        from pitchwright.bench.instrument_file import EXAMPLE

        typer.echo(EXAMPLE, nl=False)
        return
    if file is not None and practice:
        raise InputError("A file and --practice both", do="See pitchwright ensemble --help")
    if file is not None:
        looked = _read(file)
    elif practice:
        looked = _practised(
            only, sources or "Loft, Stairs", notes, tolerance, checked_a4(a4), logbook
        )
    else:
        looked = _live(bench, only, sources, notes, tolerance, checked_a4(a4), logbook, events)
    charts = _draw(looked, chart) if chart is not None else []
    if as_json:
        console.print_json(record(looked))
    else:
        tell(looked)
        for path in charts:
            console.sentence(f"Written: {path}")
    if file is not None:
        _write_down(looked, logbook, say=not as_json)


def _write_down(looked: Looked, logbook: str, *, say: bool) -> None:
    """Write down what the files came to; their readings stay where they are."""
    from pitchwright.cli.recorded import announce_and_record
    from pitchwright.procedures.ensemble_check import ensemble_seen

    if looked.glance is None:
        return
    announce_and_record(
        ensemble_seen(
            looked.curves, looked.sources, looked.glance, looked.whose, looked.tolerance_cents
        ),
        logbook,
        name="ensemble",
        settings={"instrument": looked.name},
        oscillators=list(looked.curves),
        practice=looked.invented,
        say=say,
    )


def _draw(looked: Looked, chart: Path) -> list[Path]:
    from pitchwright.pictures.ensemble_chart import ensemble_svg
    from pitchwright.pictures.whose_chart import whose_svg
    from pitchwright.writing import write_whole

    pictures = {
        chart.with_name(f"{chart.stem}-whose-error{chart.suffix or '.svg'}"): whose_svg(
            looked.whose, name=looked.name, invented=looked.invented
        )
    }
    if looked.glance is not None:
        pictures[chart] = ensemble_svg(
            looked.name, looked.curves, looked.glance, invented=looked.invented
        )
    for path, picture in pictures.items():
        write_whole(path, picture)
    return sorted(pictures)


def _read(file: Path) -> Looked:
    from pitchwright.bench.instrument_file import read_instrument
    from pitchwright.cli import console
    from pitchwright.cli.looking import look

    with console.progress("Reading the surveys") as advance:
        instrument = read_instrument(file, advance)
    return look(
        instrument.evidence,
        name=instrument.name or file.stem,
        invented=instrument.invented,
        tolerance_cents=instrument.tolerance_cents,
        a4_hz=instrument.a4_hz,
        outputs=instrument.outputs,
        own_trims=instrument.own_trims,
        remarks=instrument.remarks,
    )


def _practised(
    only: str, sources: str, notes: str, tolerance_cents: float, a4_hz: float, logbook: str
) -> Looked:
    """Check the practice rig: as an instrument, it warmed up an hour ago."""
    from pitchwright.bench.practice_rig import RigBench
    from pitchwright.cli import console
    from pitchwright.cli.looking import PairTeller, look
    from pitchwright.cli.recorded import recorder
    from pitchwright.ensemble import Evidence, Output
    from pitchwright.practice import TrimmerKind, theatre_rig
    from pitchwright.procedures import EnsembleSettings
    from pitchwright.sitting import Sitting, ensemble_job
    from pitchwright.tracking.align import parse_notes

    rig = theatre_rig().only("Heron", "Wren", "Plover", "Dunlin") if not only else theatre_rig()
    wanted = [name.strip() for name in only.split(",") if name.strip()]
    rig = rig.only(*wanted) if wanted else rig
    played = [rig.source(name.strip()).name for name in sources.split(",") if name.strip()]
    settings = EnsembleSettings(
        oscillators=tuple(voice.oscillator.name for voice in rig.voices),
        notes=tuple(map(float, parse_notes(notes))),
        sources=tuple(played),
        tolerance_cents=tolerance_cents,
        a4_hz=a4_hz,
    )
    console.note("The practice rig: instrument, values and rooms are invented.")
    bench = RigBench(rig, settings.sources[0])
    with recorder(logbook, practice=True) as written:
        begun = Sitting(written).begin(ensemble_job(settings))
        checked = begun.carry_out(bench, (PairTeller(),))
    return look(
        Evidence(checked.sweeps),
        name="The practice rig",
        invented=True,
        tolerance_cents=tolerance_cents,
        a4_hz=a4_hz,
        outputs=tuple(
            Output(f"{voice.oscillator.name}'s own", *_range(trimmer), (voice.oscillator.name,))
            for voice in rig.voices
            for trimmer in voice.oscillator.trimmers
            if trimmer.kind == TrimmerKind.OUTPUT
        ),
        own_trims={
            voice.oscillator.name: _range(trimmer)
            for voice in rig.voices
            for trimmer in voice.oscillator.trimmers
            if trimmer.kind == TrimmerKind.SCALE
        },
    )


def _live(
    bench: Path | None,
    only: str,
    sources: str,
    notes: str,
    tolerance_cents: float,
    a4_hz: float,
    logbook: str,
    events: Path | None,
) -> Looked:
    """Check what is connected."""
    from pitchwright.cli import console
    from pitchwright.cli.kept_events import keeping, kept_in
    from pitchwright.cli.live import connected, described_bench, expect_notes
    from pitchwright.cli.looking import PairTeller, look
    from pitchwright.cli.recorded import recorder
    from pitchwright.ensemble import Evidence
    from pitchwright.procedures import EnsembleSettings
    from pitchwright.procedures.survey import order
    from pitchwright.sitting import Sitting, ensemble_job, job_of
    from pitchwright.tracking.align import parse_notes

    there = described_bench(bench)
    wanted = [there.named(name.strip()) for name in only.split(",") if name.strip()]
    played = [name.strip() for name in sources.split(",") if name.strip()]
    settings = EnsembleSettings(
        oscillators=tuple(wanted or there.oscillator),
        notes=tuple(map(float, parse_notes(notes))),
        sources=tuple(played) or (there.source or "the source",),
        tolerance_cents=tolerance_cents,
        a4_hz=a4_hz,
        note_at_0_v=there.note_at_0_v,
        clock_ppm=there.u_clock_ppm,
        conditions=there.conditions(wanted or there.oscillator),
    )
    earlier = kept_in(events)
    job = job_of(earlier, str(events)) or ensemble_job(settings)
    settings = job.settings
    with recorder(logbook, practice=there.invented) as written:
        begun = Sitting(written).begin(job, earlier=earlier)
        with connected(
            there, settings.oscillators, a4_hz=a4_hz, start_s=begun.start_s, say=console.note
        ) as live:
            if not earlier:
                expect_notes(live, there, order(settings.survey()) * len(settings.sources))
            checked = begun.carry_out(live, (keeping(events), PairTeller()))
        if written.where and not written.turned_aside:
            console.note(f"Written down in the logbook: {written.where}.")
    return look(
        Evidence(checked.sweeps),
        name=there.name or "What is connected",
        invented=there.invented,
        tolerance_cents=tolerance_cents,
        a4_hz=a4_hz,
    )


def _range(trimmer: Trimmer) -> tuple[float, float]:
    """What a trimmer of the practice rig can add, least and most, in its unit."""
    ends = [
        trimmer.turned(turns * 2.0 * trimmer.travel_turns).effect - trimmer.effect
        for turns in (-1.0, 1.0)
    ]
    return min(ends), max(ends)
