"""What an oscillator's frequency does by itself: jitter, flicker and slow wander.

Jitter is white frequency noise: each period's length is off independently of the others, so the
phase walks. Flicker has a spectrum proportional to 1/f and a flat Allan deviation, its floor.
Wander is a random walk of the pitch.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InternalError

__all__ = ["FrequencyNoise", "Noise"]

Array = NDArray[np.float64]

# Relaxations a factor four apart, summed with equal variance s², have the one-sided spectrum
# s² / (f ln 4) between the extremes; the Allan variance of h/f noise is 2 ln 2 · h (NIST
# SP 1065), so that s is the floor itself. The ripple of a factor four is below 2 %.
_TAU_S = 0.01 * 4.0 ** np.arange(10)


@dataclass(frozen=True, slots=True)
class Noise:
    """How restless an oscillator is.

    Attributes
    ----------
    cycle_jitter
        Standard deviation of one period's length as a share of it (1e-4 is 0.01 %).
    flicker_floor_cents
        Floor of the Allan deviation in cents, from about 0.05 s to 1000 s.
    wander_cents_per_root_min
        Standard deviation in cents of the random walk after one minute; grows with the root
        of the time.
    """

    cycle_jitter: float = 0.0
    flicker_floor_cents: float = 0.0
    wander_cents_per_root_min: float = 0.0


class FrequencyNoise:
    """One oscillator's flicker and wander as they happen, zero at the session's start.

    Time only moves forward: :meth:`cents_at` jumps to a moment, :meth:`track` walks on in equal
    steps from the last one. Both continue the same path.

    Parameters
    ----------
    noise
        How restless.
    rng
        Where chance comes from.
    """

    def __init__(self, noise: Noise, rng: np.random.Generator) -> None:
        self._noise = noise
        self._rng = rng
        self._t_s = 0.0
        self._relaxed = np.zeros(_TAU_S.size)
        self._walked = 0.0

    @property
    def cents(self) -> float:
        """Pitch offset in cents at the last moment asked for."""
        return float(self._relaxed.sum()) + self._walked

    def cents_at(self, t_s: float) -> float:
        """Pitch offset in cents at a session time in seconds, not before the last one asked for."""
        step_s = t_s - self._t_s
        if step_s < 0.0:
            raise InternalError("Noise was asked for a time that had already passed")
        if step_s > 0.0:
            keep = np.exp(-step_s / _TAU_S)
            fresh = self._rng.standard_normal(_TAU_S.size) * self._noise.flicker_floor_cents
            self._relaxed = keep * self._relaxed + np.sqrt(1.0 - keep**2) * fresh
            self._walked += self._walk_sd(step_s) * float(self._rng.standard_normal())
            self._t_s = t_s
        return self.cents

    def track(self, count: int, step_s: float) -> Array:
        """Pitch offsets in cents at the next ``count`` moments, ``step_s`` seconds apart."""
        # Loading scipy.signal takes about a second, which most commands need not wait for.
        from scipy.signal import lfilter

        cents = np.zeros(count)
        if self._noise.flicker_floor_cents > 0.0:
            for index, keep in enumerate(np.exp(-step_s / _TAU_S)):
                fresh = self._rng.standard_normal(count) * self._noise.flicker_floor_cents
                path, _ = lfilter(
                    [math.sqrt(1.0 - keep**2)],
                    [1.0, -keep],
                    fresh,
                    zi=np.array([keep * self._relaxed[index]]),
                )
                self._relaxed[index] = path[-1]
                cents += path
        if self._noise.wander_cents_per_root_min > 0.0:
            steps = self._rng.standard_normal(count) * self._walk_sd(step_s)
            path = self._walked + np.cumsum(steps)
            self._walked = float(path[-1])
            cents += path
        self._t_s += count * step_s
        return cents

    def _walk_sd(self, step_s: float) -> float:
        return self._noise.wander_cents_per_root_min * math.sqrt(step_s / 60.0)
