"""A bench file told in sentences."""

from __future__ import annotations

from pathlib import Path

from pitchwright.bench.live.bench_file import BenchFile, Voltmeter
from pitchwright.bench.live.notes_voltage import CAUTION_DC
from pitchwright.cli import console
from pitchwright.errors import InputError
from pitchwright.units import note_name

__all__ = ["tell_bench"]


def tell_bench(bench: BenchFile, path: Path) -> None:
    """Say what a bench file describes."""
    console.heading(bench.name or "The bench")
    if bench.invented:
        console.sentence("It is invented, for practice.")
    console.sentence(f"Described in {path}.")
    heard = bench.sound_in
    console.sentence(
        f"Heard at {heard.device or 'the default input'}, {heard.rate_hz:g} samples a second."
    )
    rows = [
        (
            name,
            str(one.channel),
            ", ".join(trimmer.name for trimmer in one.trimmer) or "none described",
            one.route or "not described",
        )
        for name, one in bench.oscillator.items()
    ]
    console.table(("oscillator", "channel", "trimmers", "route"), rows, left=4)
    console.sentence(_notes(bench))
    if bench.notes == "voltage":
        console.sentence(CAUTION_DC)
    if bench.voltage_out is not None:
        _tell_line("The output", bench.voltage_out.calibration, "pitchwright bench calibrate")
    if bench.voltage_in is not None:
        inside = bench.voltage_in
        console.sentence(
            f"The control voltage is measured on channel {inside.channel} of "
            f"{inside.device or 'the same input'}."
        )
        _tell_line("The voltage input", inside.calibration, "pitchwright bench calibrate --input")


def _notes(bench: BenchFile) -> str:
    if bench.notes == "midi" and bench.midi is not None:
        midi = bench.midi
        moved = f", transposed by {midi.transpose:+d}" if midi.transpose else ""
        return f"Notes are played by MIDI: {midi.port}, channel {midi.channel}{moved}."
    if bench.notes == "voltage" and bench.voltage_out is not None:
        out = bench.voltage_out
        return (
            f"Notes are played by voltage: {out.device}, channel {out.channel}; 0 V plays "
            f"{note_name(bench.note_at_0_v)}."
        )
    return "Notes are played by a person, who is told which."


def _tell_line(what: str, voltmeter: Voltmeter | None, do: str) -> None:
    if voltmeter is None:
        console.sentence(f"{what} is not calibrated: {do}.")
        return
    try:
        console.sentence(f"{what}: {voltmeter.calibration().sentence()}")
    except InputError as refused:
        console.warning(f"{what}: {refused.sentence}")
