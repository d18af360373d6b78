"""What was measured: oscillators through sources, voltages, and what is known beforehand."""

from __future__ import annotations

import math
from dataclasses import dataclass

from pitchwright.errors import InputError
from pitchwright.tracking import Point
from pitchwright.units import CENTS_PER_OCTAVE, NOTE_AT_0_V

__all__ = ["Known", "Meter", "Sweep", "Voltage"]


@dataclass(frozen=True, slots=True)
class Sweep:
    """One survey of one oscillator, played by one source.

    Attributes
    ----------
    oscillator, source
        Their names.
    points
        The readings, times included: notes played more than once separate drift from tracking.
    """

    oscillator: str
    source: str
    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Voltage:
    """One voltage of a source, read by a meter.

    Attributes
    ----------
    source
        Its name.
    note
        The MIDI note it was asked for.
    cv_v
        What the meter said, in volts.
    note_at_0_v
        The note that 0 V plays.
    """

    source: str
    note: float
    cv_v: float
    note_at_0_v: float = NOTE_AT_0_V

    def __post_init__(self) -> None:
        if not (math.isfinite(self.note) and math.isfinite(self.cv_v)):
            raise InputError("A voltage must be a number", f"voltage of {self.source}")

    @property
    def cents(self) -> float:
        """How far it is from nominal, in cents at one volt per octave."""
        return CENTS_PER_OCTAVE * (self.cv_v - (self.note - self.note_at_0_v) / 12.0)


@dataclass(frozen=True, slots=True)
class Meter:
    """How good the voltmeter is.

    Attributes
    ----------
    u_v
        Standard uncertainty of one reading in volts, its steps and noise.
    u_gain
        Standard uncertainty of its gain, as a fraction; None where nobody knows. It is common to
        all readings and counts in full: 0.005 is 6 cents per octave.
    """

    u_v: float = 0.001
    u_gain: float | None = None

    def __post_init__(self) -> None:
        if not (math.isfinite(self.u_v) and self.u_v > 0.0):
            raise InputError(
                f"A meter that reads to {self.u_v:g} V cannot be", "meter", "Write 0.001 for 1 mV"
            )
        if self.u_gain is not None and not (math.isfinite(self.u_gain) and self.u_gain >= 0.0):
            raise InputError(
                f"A gain uncertainty of {self.u_gain:g} cannot be", "meter", "Write a fraction"
            )


@dataclass(frozen=True, slots=True)
class Known:
    """A scale known beforehand: of an oscillator or of a source.

    Attributes
    ----------
    name
        Whose.
    scale_cents_per_oct, u_scale
        Its own scale and the standard uncertainty of that.
    high_cents_per_khz, u_high
        Its own droop where that is known too; None otherwise.
    """

    name: str
    scale_cents_per_oct: float
    u_scale: float
    high_cents_per_khz: float | None = None
    u_high: float | None = None

    def __post_init__(self) -> None:
        for u in (self.u_scale, self.u_high):
            if u is not None and not (math.isfinite(u) and u > 0.0):
                raise InputError(
                    f"An uncertainty of {u:g} cannot be",
                    f"what is known of {self.name}",
                    "Write a figure above 0",
                )
