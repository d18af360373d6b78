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
from scipy import special

__all__ = ["FIRST_MODE", "PhaseTrack", "Wander", "phase_track"]

Array = NDArray[np.float64]

_BLOCKS = 48
# Modes 1 and 2 (a slope, a bend) belong to the frequency and its glide.
FIRST_MODE = 3
_STRENGTHS = 80
_FAST_IS_LESS = 0.25
# Twice the log likelihood by which a walk must explain the track better than none.
_CLEARLY = 7.0
# Where beside the slope to look, in bins.
_BINS_OFF = np.arange(2, 7)


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
        return float(special.stdtrit(self.modes, 0.97725)) / 2


@dataclass(frozen=True, slots=True)
class PhaseTrack:
    """Phase of the fundamental beside the fitted law, in blocks of at least one period.

    Attributes
    ----------
    t_s, phase_rad, variance_rad2
        Each of shape (blocks,): block centres, phase, its variance from noise.
    lone
        Whether hardly more than one harmonic tells.
    """

    t_s: Array
    phase_rad: Array
    variance_rad2: Array
    lone: bool = False

    def bend(self) -> tuple[float, float]:
        """Coefficient of t² in the phase (rad/s²), and its standard uncertainty."""
        x, weight = self.t_s, 1.0 / np.sqrt(self.variance_rad2)
        basis = np.stack([np.ones_like(x), x, x**2], axis=1) * weight[:, None]
        law, *_ = np.linalg.lstsq(basis, self.phase_rad * weight, rcond=None)
        covariance = np.linalg.inv(basis.T @ basis)
        left = self.phase_rad * weight - basis @ law
        scatter = max(float(left @ left) / max(len(x) - 3, 1), 1.0)
        return float(law[2]), float(np.sqrt(covariance[2, 2] * scatter))

    def slope_variance(self) -> float:
        """Variance of the slope (rad²/s²) as the track itself shows it; 0 where it is too short.

        What disturbs the slope also disturbs the same sum at frequencies a few bins off: the
        track is weighted by time and looked at there. Lines that all harmonics share (alias
        products, another tone) are seen here and not in the noise about each harmonic.
        """
        blocks = len(self.t_s)
        if blocks < 4 * _BINS_OFF[-1]:
            return 0.0
        x = np.linspace(-1, 1, blocks)
        turn = np.exp(-1j * np.pi * np.outer(_BINS_OFF, x) * (blocks - 1) / blocks) * self.t_s
        basis, _ = np.linalg.qr(np.polynomial.legendre.legvander(x, 2))
        # Straightening takes some of white noise away, too.
        kept = turn - (turn @ basis) @ basis.T
        per_block = float(np.mean(np.abs(kept @ self.phase_rad) ** 2))
        per_block /= float(np.mean(np.sum(np.abs(kept) ** 2, axis=1)))
        return per_block / float(self.t_s @ self.t_s)

    def slope_with(self, wander: Wander) -> float:
        """Phase gained from end to end over the duration (rad/s), given a random walk.

        A straight line weighs the middle of a walk as if it were noise; the best guess of where
        the walk began and ended (generalised least squares with the walk's covariance, and its
        prediction at the ends) comes closer to the phase that was really gained.
        """
        blocks = len(self.t_s)
        step_s = float(self.t_s[-1] - self.t_s[0]) / (blocks - 1)
        t = self.t_s - self.t_s[0] + step_s / 2
        duration_s = blocks * step_s
        walk = np.minimum(t[:, None], t) - np.eye(blocks) * step_s / 6
        added = np.full(blocks, float(np.median(self.variance_rad2)))
        covariance = wander.rad2_per_s * walk + np.diag(added)
        basis = np.stack([np.ones(blocks), t], axis=1)
        known = np.column_stack([basis, self.phase_rad, wander.rad2_per_s * t])
        solved = np.linalg.solve(covariance, known)
        law = np.linalg.solve(basis.T @ solved[:, :2], basis.T @ solved[:, 2])
        gained = float(solved[:, 3] @ (self.phase_rad - basis @ law))
        return float(law[1]) + gained / duration_s

    def _straightened(self) -> Array:
        """The phase less its best parabola."""
        basis = np.polynomial.legendre.legvander(np.linspace(-1, 1, len(self.t_s)), 2)
        law, *_ = np.linalg.lstsq(basis, self.phase_rad, rcond=None)
        left: Array = self.phase_rad - basis @ law
        return left

    def wander(self) -> Wander:
        """Random walk beyond what added noise explains, the most likely strength."""
        blocks = len(self.t_s)
        if blocks <= FIRST_MODE:
            return Wander(0.0, 0)
        step_s = float(self.t_s[-1] - self.t_s[0]) / (blocks - 1)
        left = self._straightened()
        m = np.arange(FIRST_MODE, blocks)
        i = np.arange(blocks)
        modes = np.sqrt(2.0 / blocks) * np.cos(np.pi * m[:, None] * (i + 0.5) / blocks)
        power = (modes @ left) ** 2
        # Variance of mode m of a random walk with this step, per unit strength, seen in averages
        # over blocks, which smooth it: next to the end of the modes it has a third left.
        curve = np.sin(np.pi * m / (2 * blocks)) ** 2
        walk = step_s / (4 * curve) * (1 - 2 * curve / 3)
        added = modes**2 @ self.variance_rad2
        if self.lone:
            # The noise about a lone line holds the walk itself; the highest modes hold least.
            fast = float(np.mean(power[len(power) // 2 :]))
            if fast < _FAST_IS_LESS * float(np.median(added)):
                added = np.minimum(added, fast)
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
    return Wander(float(strengths[best]), max(seen, 2))


def phase_track(
    remainder: Array,
    pattern: Array,
    slope: Array,
    t_s: Array,
    periods: float,
    *,
    lone: bool = False,
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
    lone
        Whether hardly more than one harmonic tells.
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
    variance = np.maximum(1.0 / np.abs(answer), everything / answer**2)
    return PhaseTrack(centre, phase, variance, lone)
