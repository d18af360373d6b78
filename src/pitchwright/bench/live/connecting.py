"""From the bench file to a bench that works: devices opened, or one sentence that says why not."""

from __future__ import annotations

from collections.abc import Callable

from pitchwright.bench.live.bench_file import BenchFile, VoltageInput
from pitchwright.bench.live.live_bench import LiveBench
from pitchwright.bench.live.notes import NotePlayer
from pitchwright.bench.live.notes_midi import MidiNotes
from pitchwright.bench.live.notes_voltage import ControlVoltage, VoltageNotes
from pitchwright.bench.live.reference import Reference
from pitchwright.bench.live.sound_in import SoundIn
from pitchwright.bench.live.sound_memory import SoundMemory
from pitchwright.bench.live.sound_trouble import SoundTrouble
from pitchwright.bench.live.voltage_in import VoltageIn
from pitchwright.bench.stop import Stop
from pitchwright.errors import InputError
from pitchwright.procedures.requests import Ask

__all__ = ["connect", "control_voltage", "voltage_source"]

_CALIBRATE = "Run pitchwright bench calibrate, with a voltmeter at hand"


def connect(
    bench: BenchFile,
    *,
    only: tuple[str, ...] = (),
    say: Callable[[str], None] = lambda _: None,
    trouble: Callable[[SoundTrouble | None], None] = lambda _: None,
    choose_key: Callable[[Ask], str] | None = None,
    a4_hz: float = 440.0,
    start_s: float = 0.0,
    enough: Callable[[], bool] = lambda: False,
    stop: Stop | None = None,
) -> LiveBench:
    """Open what a bench file describes.

    Parameters
    ----------
    bench
        The description.
    only
        Names of the oscillators to listen to; all where empty.
    say, trouble, choose_key, a4_hz, start_s, enough, stop
        As for `LiveBench`.

    Raises
    ------
    InputError
        Where a device, a port, a channel or a calibration is missing.
    """
    names = tuple(bench.named(name) for name in only) or tuple(bench.oscillator)
    player = _player(bench)
    opened: list[SoundIn] = []
    try:
        numbers = [bench.oscillator[name].channel for name in names]
        inside = bench.voltage_in
        if inside is not None and inside.device is None:
            numbers.append(inside.channel)
        reference = None
        if bench.reference is not None:
            reference = Reference(len(numbers), bench.reference.f_hz)
            numbers.append(bench.reference.channel)
        source = SoundIn(
            bench.sound_in.device,
            rate_hz=bench.sound_in.rate_hz,
            channels=tuple(numbers),
            device_channels=bench.sound_in.device_channels,
            latency_s=bench.sound_in.latency_s,
        )
        opened.append(source)
        voltage_in = None
        if inside is not None and player is not None:
            voltage_in = _voltage_in(bench, inside, len(names), opened, stop)
        return LiveBench(
            source,
            {name: place for place, name in enumerate(names)},
            player,
            voltage_in=voltage_in,
            reference=reference,
            say=say,
            trouble=trouble,
            choose_key=choose_key,
            a4_hz=a4_hz,
            start_s=start_s,
            enough=enough,
            stop=stop,
        )
    except BaseException:
        # Whatever else: no voltage and no note may be left standing.
        if player is not None:
            player.close()
        for one in opened:
            one.close()
        raise


def control_voltage(bench: BenchFile) -> ControlVoltage:
    """Open the output that control voltages go to; InputError where there is none."""
    out = bench.voltage_out
    if out is None:
        raise InputError(
            "This bench has no output for control voltages", "bench file, voltage_out", "Add one"
        )
    return ControlVoltage(
        out.device,
        channel=out.channel,
        rate_hz=out.rate_hz,
        marked=out.control_voltage,
        device_channels=out.device_channels,
        latency_s=out.latency_s,
    )


def voltage_source(bench: BenchFile) -> SoundIn:
    """Open the input that hears the control voltage; InputError where there is none."""
    inside = bench.voltage_in
    if inside is None:
        raise InputError(
            "This bench has no input for the control voltage", "bench file, voltage_in", "Add one"
        )
    shared = bench.sound_in if inside.device is None else inside
    return SoundIn(
        shared.device,
        rate_hz=shared.rate_hz,
        channels=(inside.channel,),
        device_channels=shared.device_channels,
        latency_s=shared.latency_s,
    )


def _player(bench: BenchFile) -> NotePlayer | None:
    if bench.notes == "midi" and bench.midi is not None:
        midi = bench.midi
        return MidiNotes(
            midi.port, channel=midi.channel, velocity=midi.velocity, transpose=midi.transpose
        )
    if bench.notes == "voltage" and bench.voltage_out is not None:
        if bench.voltage_out.calibration is None:
            raise InputError(
                "The control voltage output is not calibrated",
                "bench file, voltage_out",
                _CALIBRATE,
            )
        line = bench.voltage_out.calibration.calibration()
        output = control_voltage(bench)
        return VoltageNotes(output, line, f"control voltage, {bench.voltage_out.device}")
    return None


def _voltage_in(
    bench: BenchFile, inside: VoltageInput, column: int, opened: list[SoundIn], stop: Stop | None
) -> VoltageIn:
    if inside.calibration is None:
        raise InputError(
            "The voltage input is not calibrated", "bench file, voltage_in", _CALIBRATE
        )
    line = inside.calibration.calibration()
    if inside.device is None:
        return VoltageIn(column, line)
    source = voltage_source(bench)
    opened.append(source)
    return VoltageIn(0, line, SoundMemory(source, stop=stop))
