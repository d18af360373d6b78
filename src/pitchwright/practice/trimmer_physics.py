"""What each kind of trimmer changes in an exponential oscillator: one function a kind.

Control voltages are summed ahead of the scale trimmer and after it; the buffered output comes first
of all, the high-end compensation last. The kinds themselves are in ``trim.kinds``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from pitchwright.errors import InputError
from pitchwright.practice.trimmers import Trimmer
from pitchwright.units import CENTS_PER_OCTAVE

__all__ = ["PHYSICS", "Summing", "summed"]


@dataclass(frozen=True, slots=True)
class Summing:
    """Gains and voltages through which a control voltage reaches the converter.

    Attributes
    ----------
    output_gain
        Of the buffered output ahead of the oscillator.
    ahead_v, after_v
        Volts added ahead of the scale trimmer and after it.
    scale_gain
        Of the scale trimmer.
    compensation_ns
        High-end compensation in nanoseconds.
    """

    output_gain: float = 1.0
    ahead_v: float = 0.0
    scale_gain: float = 1.0
    after_v: float = 0.0
    compensation_ns: float = 0.0


def _base(at: Summing, screw: Trimmer) -> Summing:
    volts = screw.effect / CENTS_PER_OCTAVE
    if screw.ahead_of_scale:
        return replace(at, ahead_v=at.ahead_v + volts)
    return replace(at, after_v=at.after_v + volts)


def _scale(at: Summing, screw: Trimmer) -> Summing:
    return replace(at, scale_gain=at.scale_gain + screw.effect / CENTS_PER_OCTAVE)


def _output(at: Summing, screw: Trimmer) -> Summing:
    return replace(at, output_gain=at.output_gain + screw.effect / CENTS_PER_OCTAVE)


def _high_end(at: Summing, screw: Trimmer) -> Summing:
    return replace(at, compensation_ns=at.compensation_ns + screw.effect)


PHYSICS: dict[str, Callable[[Summing, Trimmer], Summing]] = {
    "base coarse": _base,
    "base fine": _base,
    "scale": _scale,
    "output": _output,
    "high end": _high_end,
}
"""What a trimmer of each kind changes."""


def summed(at: Summing, screws: Iterable[Trimmer]) -> Summing:
    """All trimmers' doing on top of what is there without them.

    Raises
    ------
    InputError
        Where the practice rig has no physics for a kind.
    """
    for screw in screws:
        if screw.kind not in PHYSICS:
            raise InputError(f"The practice rig does not know what a {screw.kind} trimmer does")
        at = PHYSICS[screw.kind](at, screw)
    return at
