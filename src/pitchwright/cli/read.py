"""``pitchwright read``: one careful reading per file and channel."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pitchwright.cli.options import JsonOption
from pitchwright.cli.recorded import LogbookOption

if TYPE_CHECKING:
    from pitchwright.pitch import Reading

__all__ = ["read"]

_COLUMNS = ("file", "channel", "f_hz", "u_cents", "level_dbfs", "periods", "flags")


def read(
    files: Annotated[
        list[Path], typer.Argument(help="Recordings: WAV, FLAC or AIFF.", show_default=False)
    ],
    csv: Annotated[
        Path | None, typer.Option(help="Write the readings to this CSV file.", show_default=False)
    ] = None,
    as_json: JsonOption = False,
    a4: Annotated[float, typer.Option(help="Pitch of A4 in hertz, for the note names.")] = 440.0,
    logbook: LogbookOption = "",
) -> None:
    """Read the pitch of each channel of each recording once, as carefully as the sound allows.

    The uncertainty is for the span that was read and leaves the recorder's clock out.
    """
    from pitchwright.bench.take import read_file
    from pitchwright.certificate.csv_table import write_csv
    from pitchwright.cli import console
    from pitchwright.cli.options import checked_a4

    a4_hz = checked_a4(a4)
    readings: list[tuple[str, int, Reading]] = []
    with console.progress("Reading") as advance:
        for place, file in enumerate(files):
            readings += [(str(file), channel, reading) for channel, reading in read_file(file)]
            advance((place + 1) / len(files))
    _write_down(readings, logbook)
    if csv is not None:
        write_csv(csv, _COLUMNS, [_row(*heard) for heard in readings])
    if as_json:
        console.print_json(
            {
                "schema": "pitchwright readings 1",
                "readings": [_record(*heard) for heard in readings],
            }
        )
        return
    console.table(
        ("file", "channel", "pitch, Hz", "note", "± cents (k = 2)", "level, dBFS", "periods"),
        [_shown(*heard, a4_hz) for heard in readings],
        left=1,
    )
    for name, channel, reading in readings:
        for flag in reading.flags:
            console.sentence(f"{Path(name).name}, channel {channel}: {flag.reason}")
    if any(reading.f_hz is not None for _, _, reading in readings):
        console.sentence(
            "The recorder's clock is not in these uncertainties: each 100 parts per million of it "
            "is 0.17 cent, the same at every pitch."
        )


def _write_down(readings: list[tuple[str, int, Reading]], logbook: str) -> None:
    """Write the readings into the logbook: of no instrument, for nobody said which it was."""
    from pitchwright.cli.recorded import recorder
    from pitchwright.practice.take_truth import truth_path
    from pitchwright.procedures.requests import Heard, ReadingsTaken

    practice = any(truth_path(Path(file)).exists() for file, _, _ in readings)
    with recorder(logbook, practice=practice) as written:
        if not written.silent and readings:
            heard = tuple(
                Heard(
                    f"{Path(file).name}, channel {channel}",
                    0.0,
                    reading.f_hz,
                    reading.u_cents if reading.f_hz is not None else 0.0,
                    tuple(flag.reason for flag in reading.flags),
                )
                for file, channel, reading in readings
            )
            written.write(ReadingsTaken(heard))


def _row(file: str, channel: int, reading: Reading) -> tuple[str | float | int | None, ...]:
    flags = "; ".join(flag.kind.value for flag in reading.flags)
    return (
        file,
        channel,
        reading.f_hz,
        reading.u_cents,
        reading.level_dbfs,
        reading.periods,
        flags,
    )


def _record(file: str, channel: int, reading: Reading) -> dict[str, object]:
    from pitchwright.certificate.survey_record import finite

    return {
        "file": file,
        "channel": channel,
        "f_hz": reading.f_hz,
        "u_cents": finite(reading.u_cents),
        "level_dbfs": finite(reading.level_dbfs),
        "periods": reading.periods,
        "flags": [
            {"kind": flag.kind.value, "reason": flag.reason, "other_hz": flag.other_hz}
            for flag in reading.flags
        ],
    }


def _shown(file: str, channel: int, reading: Reading, a4_hz: float) -> tuple[str, ...]:
    from pitchwright.cli.console import number
    from pitchwright.tracking.coverage import expanded_u
    from pitchwright.units import cents_between, note_name, note_of_hz, note_to_hz

    if reading.f_hz is None:
        pitch, note, expanded = "no pitch", "", ""
    else:
        nearest = round(note_of_hz(reading.f_hz, a4_hz))
        off = cents_between(reading.f_hz, note_to_hz(nearest, a4_hz))
        pitch = f"{reading.f_hz:.{_decimals(reading)}f}"
        note = f"{note_name(nearest)} {number(off, 2, sign=True)}"
        expanded = number(expanded_u(reading.u_cents), 3 if reading.u_cents < 0.05 else 2)
    level = "silent" if reading.level_dbfs == float("-inf") else number(reading.level_dbfs, 1)
    return (Path(file).name, str(channel), pitch, note, expanded, level, f"{reading.periods:.0f}")


def _decimals(reading: Reading) -> int:
    """As many decimals of the frequency as its uncertainty carries, at most six."""
    import math

    if reading.f_hz is None or not 0.0 < reading.u_cents < math.inf:
        return 4
    u_hz = reading.f_hz * reading.u_cents * math.log(2.0) / 1200.0
    return min(6, max(0, 1 - math.floor(math.log10(u_hz))))
