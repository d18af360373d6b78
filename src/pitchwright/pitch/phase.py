"""The phase of a tone along its span, and how much of it wanders.

Cycle jitter makes the phase of an oscillator a random walk. Seen through the cosine modes of the
span, a random walk has power falling as the square of the mode's number, and noise added to the
sound has the same power in every mode. Noise in a band narrower than the inverse of the span
looks like the walk, and does as much harm. The slope of the phase, which is the frequency, is
moved by the same walk; from the walk's strength follows by how much.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

__all__ = ["PhaseTrack", "Wander", "phase_track"]

Array = NDArray[np.float64]

_BLOCKS = 48
# Modes 1 and 2 (a slope, a bend) belong to the frequency and its glide.
_FIRST_MODE = 3
_STRENGTHS = 80
# Twice the log likelihood by which a walk must explain the track better than none.
_CLEARLY = 4.0


@dataclass(frozen=True, slots=True)
class Wander:
    """A random walk of the phase.

    Attributes
    ----------
    rad2_per_s
        Variance gained per second.
    modes
        How many modes it was seen in, roughly: its degrees of freedom.
    """

    rad2_per_s: float
    modes: int

    @property
    def inflation(self) -> float:
        """Factor on the standard uncertainty so that twice it still covers 95 % (Student's t)."""
        if self.modes < 1:
            return 1.0
        return float(stats.t.ppf(0.97725, self.modes)) / 2


@dataclass(frozen=True, slots=True)
class PhaseTrack:
    """Phase of the fundamental beside the fitted law, in blocks of at least one period.

    Attributes
    ----------
    t_s, phase_rad, variance_rad2
        Each of shape (blocks,): block centres, phase, its variance from noise.
    """

    t_s: Array
    phase_rad: Array
    variance_rad2: Array

    def bend(self) -> tuple[float, float]:
        """Coefficient of t² in the phase (rad/s²), and its standard uncertainty."""
        x, weight = self.t_s, 1.0 / np.sqrt(self.variance_rad2)
        basis = np.stack([np.ones_like(x), x, x**2], axis=1) * weight[:, None]
        law, *_ = np.linalg.lstsq(basis, self.phase_rad * weight, rcond=None)
        covariance = np.linalg.inv(basis.T @ basis)
        left = self.phase_rad * weight - basis @ law
        scatter = max(float(left @ left) / max(len(x) - 3, 1), 1.0)
        return float(law[2]), float(np.sqrt(covariance[2, 2] * scatter))

    def wander(self) -> Wander:
        """Random walk beyond what added noise explains, the most likely strength."""
        blocks = len(self.t_s)
        if blocks <= _FIRST_MODE:
            return Wander(0.0, 0)
        step_s = float(self.t_s[-1] - self.t_s[0]) / (blocks - 1)
        x = np.linspace(-1, 1, blocks)
        basis = np.polynomial.legendre.legvander(x, 2)
        law, *_ = np.linalg.lstsq(basis, self.phase_rad, rcond=None)
        left = self.phase_rad - basis @ law
        m = np.arange(_FIRST_MODE, blocks)
        i = np.arange(blocks)
        modes = np.sqrt(2.0 / blocks) * np.cos(np.pi * m[:, None] * (i + 0.5) / blocks)
        power = (modes @ left) ** 2
        # Variance of mode m of a random walk with this step, per unit strength.
        walk = step_s / (4 * np.sin(np.pi * m / (2 * blocks)) ** 2)
        added = modes**2 @ self.variance_rad2
        return _most_likely(power, added, walk)


def _most_likely(power: Array, added: Array, walk: Array) -> Wander:
    """Strength of a walk that best explains the power of the modes, where it is needed at all."""
    most = max(float(np.max(power / walk)), 1e-300)
    strengths = np.concatenate(([0.0], most * np.logspace(-6, 1, _STRENGTHS)))
    variance = added + strengths[:, None] * walk
    likelihood = -np.sum(np.log(variance) + power / variance, axis=1)
    best = int(np.argmax(likelihood))
    if likelihood[best] - likelihood[0] < _CLEARLY:
        return Wander(0.0, 0)
    seen = int(np.count_nonzero(strengths[best] * walk > added))
    return Wander(float(strengths[best]), max(seen, 1))


def phase_track(
    remainder: Array, pattern: Array, slope: Array, t_s: Array, periods: float
) -> PhaseTrack:
    """Phase of the tone beside the fit.

    Parameters
    ----------
    remainder
        Shape (n,): the samples less the tone.
    pattern
        Shape (n,): derivative of the tone by phase, each harmonic over its noise variance.
    slope
        Shape (n,): derivative of the tone by phase.
    t_s
        Shape (n,): times.
    periods
        How many periods the span holds.
    """
    n = len(remainder)
    blocks = int(max(min(_BLOCKS, periods), 1))
    edges = np.linspace(0, n, blocks + 1).astype(np.intp)
    answer = np.add.reduceat(pattern * slope, edges[:-1])
    phase = np.add.reduceat(pattern * remainder, edges[:-1]) / answer
    centre: Array = (t_s[edges[:-1]] + t_s[edges[1:] - 1]) / 2
    # Lines between the harmonics (hum, another tone, alias products of clipping) come and go from
    # block to block although over the span they cancel: what is left over in all counts too.
    everything = np.add.reduceat(pattern**2, edges[:-1]) * float(np.mean(remainder**2))
    return PhaseTrack(centre, phase, np.maximum(1.0 / np.abs(answer), everything / answer**2))
