"""``pitchwright correct``: per-note corrections for a digital source."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pitchwright.cli.options import A4Option, JsonOption
from pitchwright.cli.recorded import LogbookOption
from pitchwright.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pitchwright.certificate.corrections import Corrections
    from pitchwright.cli.surveying import Surveyed

__all__ = ["correct"]


def correct(
    file: Annotated[
        Path, typer.Argument(help="A table (CSV), or a recording of one oscillator's notes.")
    ],
    name: Annotated[
        str, typer.Option(help="The oscillator; of a recording, its channel.", show_default=False)
    ] = "",
    notes: Annotated[
        str,
        typer.Option(help="Of a recording: the notes played, in order.", show_default=False),
    ] = "",
    names: Annotated[
        str, typer.Option(help="Of a recording: names of its channels.", show_default=False)
    ] = "",
    a4: A4Option = 440.0,
    wander: Annotated[
        float | None,
        typer.Option(help="How far it wanders, in cents, where known.", show_default=False),
    ] = None,
    step_mv: Annotated[
        float | None,
        typer.Option(help="Smallest step of the source in millivolts.", show_default=False),
    ] = None,
    csv: Annotated[Path | None, typer.Option(help="Write the table here.")] = None,
    syx: Annotated[Path | None, typer.Option(help="Write SysEx messages here (.syx).")] = None,
    mid: Annotated[Path | None, typer.Option(help="Write a MIDI file here (.mid).")] = None,
    chart: Annotated[
        Path | None,
        typer.Option(help="Draw errors today and as predicted here (SVG).", show_default=False),
    ] = None,
    send: Annotated[bool, typer.Option("--send", help="Send the messages by MIDI, now.")] = False,
    port: Annotated[
        str,
        typer.Option(
            help="MIDI port to send to, or a part of its name.  [default: the bench file's]",
            show_default=False,
        ),
    ] = "",
    single: Annotated[
        bool, typer.Option("--single", help="Single-note changes instead of a bulk dump.")
    ] = False,
    device: Annotated[int, typer.Option(help="MIDI device number; 127 is all.")] = 127,
    program: Annotated[int, typer.Option(help="Tuning program.")] = 0,
    bank: Annotated[int | None, typer.Option(help="Tuning bank.", show_default=False)] = None,
    as_json: JsonOption = False,
    logbook: LogbookOption = "",
) -> None:
    """Correct note by note what cannot be trimmed; refuses where that would gain nothing."""
    from pitchwright.bench.live.sending import send_sysex
    from pitchwright.certificate.corrections import (
        corrections,
        corrections_made,
        write_corrections,
    )
    from pitchwright.certificate.midi_tuning import (
        STEP_CENTS,
        bulk_dump,
        midi_file,
        note_changes,
    )
    from pitchwright.certificate.plain_record import plain_record
    from pitchwright.cli import console
    from pitchwright.cli.options import checked_a4
    from pitchwright.cli.recorded import announce_and_record
    from pitchwright.cli.surveying import Against, survey_table, survey_takes
    from pitchwright.pictures.corrections_chart import corrections_svg
    from pitchwright.practice.take_truth import truth_path
    from pitchwright.tracking import TargetCurve
    from pitchwright.writing import write_whole

    against = Against(checked_a4(a4))
    if file.suffix.lower() in (".csv", ".tsv", ".txt"):
        surveyed = [survey_table(file, against, name)]
    else:
        with console.progress("Listening") as advance:
            surveyed = survey_takes([file], against, notes, names, progress=advance)
    one = _chosen(surveyed, name, file)
    oscillator = one.survey.name
    step_cents = STEP_CENTS if step_mv is None else 1.2 * step_mv
    table = corrections(one.points, TargetCurve.flat(a4), wander, step_cents)
    messages = (
        note_changes(table.changed, device, program, bank)
        if single
        else (bulk_dump(table.pitches, oscillator, device, program, bank),)
    )
    if csv is not None:
        write_corrections(csv, table)
    if syx is not None:
        write_whole(syx, b"".join(messages))
    if mid is not None:
        write_whole(mid, midi_file(messages, oscillator))
    if chart is not None:
        write_whole(chart, corrections_svg(oscillator, table, conditions=one.where))
    sent_to = send_sysex(_port(port), messages) if send else ""
    written = [path for path in (csv, syx, mid, chart) if path is not None]
    if as_json:
        console.print_json(
            {
                "schema": "pitchwright corrections 1",
                "oscillator": oscillator,
                **plain_record(table),
                "sent_to": sent_to or None,
                "messages": [message.hex(" ").upper() for message in messages],
            }
        )
    else:
        _tell(oscillator, table, written, sent_to, len(messages))
    if sent_to or csv or syx or mid:
        announce_and_record(
            corrections_made(one.instrument or oscillator, table, sent_to),
            logbook,
            name="corrections",
            settings={"a4_hz": a4, "step_cents": step_cents},
            oscillators=(one.instrument or oscillator,),
            practice=truth_path(file).exists(),
            say=not as_json,
        )


def _chosen(surveyed: Sequence[Surveyed], name: str, file: Path) -> Surveyed:
    chosen = [one for one in surveyed if not name or one.survey.name == name]
    if len(chosen) != 1:
        raise InputError(
            f"There is no oscillator called {name}" if name else "There are several oscillators",
            str(file),
            f"Choose one with --name: {', '.join(one.survey.name for one in surveyed)}",
        )
    return chosen[0]


def _tell(
    oscillator: str, table: Corrections, written: Sequence[Path], sent_to: str, messages: int
) -> None:
    from pitchwright.cli import console

    console.heading(oscillator)
    for sentence in table.sentences:
        console.sentence(sentence)
    for path in written:
        console.sentence(f"Written: {path}")
    if sent_to:
        console.sentence(
            f"Sent to {sent_to}: {messages} message{'' if messages == 1 else 's'}. Survey again: "
            "only its sound can tell whether the instrument took them in."
        )
    elif not written:
        console.sentence(
            "Nothing was written or sent: name a file with --csv, --syx or --mid, or say --send."
        )


def _port(named: str) -> str:
    """The MIDI port to send to: the one named, else the bench file's."""
    if named:
        return named
    from pitchwright.bench.live.bench_file import bench_path, read_bench

    path = bench_path()
    midi = read_bench(path).midi if path.exists() else None
    if midi is None:
        raise InputError(
            "No MIDI port is named",
            "--send",
            "Name one with --port; pitchwright devices lists them",
        )
    return midi.port
