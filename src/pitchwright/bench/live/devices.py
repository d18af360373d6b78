"""What is there: sound inputs and outputs with what each can do, and MIDI ports."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from pitchwright.bench.live.midi_ports import midi_inputs, midi_outputs
from pitchwright.bench.live.port_audio import (
    SoundDevice,
    rates_that_open,
    sound_devices,
)
from pitchwright.errors import InputError

__all__ = ["RATES_HZ", "Found", "SoundFound", "look_around"]

RATES_HZ: Final = (44_100, 48_000, 88_200, 96_000, 176_400, 192_000)


@dataclass(frozen=True, slots=True)
class SoundFound:
    """A sound device and the rates that open, in hertz; empty where it has no such direction."""

    device: SoundDevice
    in_rates_hz: tuple[int, ...]
    out_rates_hz: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Found:
    """All that was found, and sentences about what could not be looked for.

    Attributes
    ----------
    sound
        Sound devices.
    midi_in, midi_out
        Names of MIDI ports.
    missing
        Why there is no sound or no MIDI, each a sentence.
    """

    sound: tuple[SoundFound, ...]
    midi_in: tuple[str, ...]
    midi_out: tuple[str, ...]
    missing: tuple[str, ...]


def look_around() -> Found:
    """Look for everything that could be part of a bench; what is missing is said, not raised."""
    missing: list[str] = []
    sound: tuple[SoundFound, ...] = ()
    try:
        sound = tuple(
            SoundFound(
                device,
                rates_that_open(device, "in", RATES_HZ),
                rates_that_open(device, "out", RATES_HZ),
            )
            for device in sound_devices(afresh=True)
        )
    except InputError as refused:
        missing.append(refused.sentence)
    midi_in: tuple[str, ...] = ()
    midi_out: tuple[str, ...] = ()
    try:
        midi_out, midi_in = tuple(midi_outputs()), tuple(midi_inputs())
    except InputError as refused:
        missing.append(refused.sentence)
    return Found(sound, midi_in, midi_out, tuple(missing))
