"""An oscillator of the practice rig: trimmers, summing network, converter, core, warm-up.

Theory of operation. The control voltage passes the trimmable buffered output (where there is
one), is summed with what sits ahead of the scale trimmer, scaled, summed with what comes after,
and converted::

    octaves = octaves_per_volt(T) · (scale · (output · cv + ahead) + after)

above the reference current. ``ahead`` is minus the pivot: there the scale trimmer has nothing to
act on. Because coarse tuning may be part of ``ahead``, the pivot is a fixed frequency, not a
fixed voltage. Base, scale, high end, low end and drift of the tracking model all come from this
chain; none is put in as such.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.practice.converter import Converter
from pitchwright.practice.core import Core
from pitchwright.practice.noise import Noise
from pitchwright.practice.trimmer_physics import Summing, summed
from pitchwright.practice.trimmers import Trimmer
from pitchwright.practice.warmup import WarmUp
from pitchwright.trim.kinds import TrimmerKind
from pitchwright.units import CENTS_PER_OCTAVE, NOTE_AT_0_V, note_to_hz

__all__ = ["Oscillator"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Oscillator:
    """One oscillator as it stands now; turning a trimmer gives a new one.

    Attributes
    ----------
    name
        What the person calls it.
    trimmers
        The trimmers it has, at most one of a kind.
    converter, core, warmup, noise
        Its parts.
    pivot_v
        Control voltage in volts at which the scale trimmer leaves the pitch alone while the base
        trimmers ahead of it add nothing; 0 where it sits in the control voltage's own leg.
    base_error_cents
        Base pitch error that is there with all base trimmers at mid travel.
    scale_error_cents_per_oct
        Scale error that is there with all scale trimmers at mid travel.
    compensation_ns
        High-end compensation with its trimmer at mid travel, or fixed where it has none.
    base_cents_per_k
        What temperature does to every note alike.
    drift_cents_per_min
        A steady drift of every note, counted from the session's start.
    """

    name: str
    trimmers: tuple[Trimmer, ...] = ()
    converter: Converter = field(default_factory=Converter)
    core: Core = field(default_factory=Core)
    warmup: WarmUp = field(default_factory=WarmUp)
    noise: Noise = field(default_factory=Noise)
    pivot_v: float = 0.0
    base_error_cents: float = 0.0
    scale_error_cents_per_oct: float = 0.0
    compensation_ns: float = 0.0
    base_cents_per_k: float = 0.0
    drift_cents_per_min: float = 0.0

    def f_hz(self, cv_v: Array, t_s: Array | float = 0.0, temperature_c: float = 25.0) -> Array:
        """Return the true frequency in hertz, noise left out.

        Parameters
        ----------
        cv_v
            Control voltage at its input (or at the input of its buffered output) in volts.
        t_s
            Session time in seconds: a number or an array shaped like ``cv_v``.
        temperature_c
            Temperature in degrees Celsius that it settles at.

        Returns
        -------
        numpy.ndarray
            Frequency, shaped like ``cv_v``.
        """
        cv_v = np.asarray(cv_v, dtype=np.float64)
        t_s = np.asarray(t_s, dtype=np.float64)
        junction_c = temperature_c - self.warmup.below_k(t_s)
        octaves = self.octaves(cv_v, t_s, temperature_c)
        current_a = self.converter.current_a(octaves, junction_c)
        return self.core.f_hz(current_a, self.compensation_in_all_ns * 1e-9)

    def octaves(self, cv_v: Array, t_s: Array | float = 0.0, temperature_c: float = 25.0) -> Array:
        """Octaves above the reference current that the converter is asked for, like :meth:`f_hz`.

        Affine in ``cv_v``: what bends the curve (resistance, reset, leakage) comes after.
        """
        t_s = np.asarray(t_s, dtype=np.float64)
        junction_c = temperature_c - self.warmup.below_k(t_s)
        per_volt = self.converter.octaves_per_volt(junction_c)
        warm_cents = self.base_cents_per_k * (junction_c - self.converter.trimmed_at_c)
        drift_cents = self.drift_cents_per_min * t_s / 60.0
        at = self._summing
        summed_v = at.scale_gain * (at.output_gain * cv_v + at.ahead_v) + at.after_v
        return np.asarray(per_volt * summed_v + (warm_cents + drift_cents) / CENTS_PER_OCTAVE)

    @property
    def reference_hz(self) -> float:
        """Frequency in hertz that the reference current makes in an ideal core."""
        return self.converter.reference_a / self.core.charge_c

    @property
    def compensation_in_all_ns(self) -> float:
        """High-end compensation in nanoseconds, trimmer included."""
        return self._summing.compensation_ns

    def trimmer(self, kind: TrimmerKind | str) -> Trimmer:
        """Return its trimmer of a kind; InputError where it has none."""
        for trimmer in self.trimmers:
            if trimmer.kind == kind:
                return trimmer
        having = ", ".join(trimmer.kind for trimmer in self.trimmers) or "none at all"
        raise InputError(f"It has no {kind} trimmer", where=self.name, do=f"It has: {having}")

    def turned(self, kind: TrimmerKind | str, turns: float) -> Oscillator:
        """Return the oscillator after turning one trimmer, clockwise positive."""
        old = self.trimmer(kind)
        new = tuple(
            trimmer.turned(turns) if trimmer is old else trimmer for trimmer in self.trimmers
        )
        return replace(self, trimmers=new)

    def pivot_now_v(self, kind: TrimmerKind | str) -> float:
        """Control voltage in volts at which this trimmer leaves the pitch alone, as things stand.

        NaN for base and high-end trimmers, which leave no note alone.
        """
        entry = TrimmerKind(kind).entry
        if not entry.has_pivot:
            return math.nan
        at = self._summing
        return -at.ahead_v / at.output_gain if entry.pivot_v is None else entry.pivot_v

    @property
    def _summing(self) -> Summing:
        """Gains and voltages as the trimmers stand."""
        # Chosen so that an oscillator without faults plays in tune.
        in_tune_v = math.log2(note_to_hz(NOTE_AT_0_V) / self.reference_hz) + self.pivot_v
        without = Summing(
            ahead_v=-self.pivot_v,
            scale_gain=1.0 + self.scale_error_cents_per_oct / CENTS_PER_OCTAVE,
            after_v=in_tune_v + self.base_error_cents / CENTS_PER_OCTAVE,
            compensation_ns=self.compensation_ns,
        )
        return summed(without, self.trimmers)
