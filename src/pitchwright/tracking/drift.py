"""Drift, separated from tracking by notes that were played again."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from pitchwright.tracking.coverage import coverage_factor, expanded_u
from pitchwright.tracking.readings import Readings

__all__ = ["TYPICAL_DRIFT_CENTS_PER_MIN", "Repeats", "compare_repeats"]

Array = NDArray[np.float64]

TYPICAL_DRIFT_CENTS_PER_MIN: Final = 0.3
"""Standard deviation of drift where nothing is known of it (a judgement of ours, see docs)."""
_TOO_VAGUE_CENTS: Final = 2.0


@dataclass(frozen=True, slots=True)
class Repeats:
    """What notes played more than once say.

    Attributes
    ----------
    readings
        How many readings belong to repeated notes.
    dof
        How many of them are free once each note's mean and the drift, if kept, are taken out.
    known
        Whether they tell the drift to ±2 cents over the survey (k = 2 or Student's t).
    kept
        Whether drift is needed to explain them.
    cents_per_min, u_cents_per_min
        Drift from repeats alone, with its standard uncertainty; 0 and infinite without repeats.
    visit_scatter_cents
        Scatter from one visit to a note to the next, beyond what the readings state.
    """

    readings: int
    dof: int
    known: bool
    kept: bool
    cents_per_min: float
    u_cents_per_min: float
    visit_scatter_cents: float

    @property
    def likely_square(self) -> float:
        """Mean square of drift that is still likely, (cents per minute)², if it is left out."""
        prior = TYPICAL_DRIFT_CENTS_PER_MIN**2
        if not math.isfinite(self.u_cents_per_min):
            return prior
        known = self.u_cents_per_min**2
        variance = prior * known / (prior + known)
        return float((self.cents_per_min * prior / (prior + known)) ** 2 + variance)


def compare_repeats(readings: Readings) -> Repeats:
    """Look for drift and for scatter between visits in the notes that were played again."""
    _, group, count = np.unique(readings.note, return_inverse=True, return_counts=True)
    repeated = count[group] > 1
    minutes = readings.t_s / 60.0
    span_min = float(np.ptp(minutes))
    if not repeated.any():
        return Repeats(0, 0, False, False, 0.0, math.inf, 0.0)
    _, group = np.unique(group[repeated], return_inverse=True)
    t, y, u = minutes[repeated], readings.cents[repeated], readings.u_cents[repeated]
    u = np.maximum(u, 1e-6)
    free = len(t) - int(group.max()) - 1
    still = _scatter(group, None, y, u, free)
    if not any(np.ptp(t[group == g]) > 1e-6 for g in range(int(group.max()) + 1)):
        return Repeats(len(t), free, False, False, 0.0, math.inf, still)
    moving = _scatter(group, t, y, u, free - 1)
    rate, u_rate, left = _slope(group, t, y, u, moving)
    dof = math.inf if moving == 0.0 else float(free - 1)
    known = coverage_factor(dof) * u_rate * span_min <= _TOO_VAGUE_CENTS
    if free == 1:
        # One pair: drift and scatter cannot be told apart, and the pair was played to show drift.
        kept = abs(rate) >= 3.0 * u_rate
    elif moving == 0.0:
        kept = _slope(group, None, y, u, 0.0)[2] - left > 2.0 and abs(rate) >= expanded_u(u_rate)
    else:
        kept = abs(rate) >= coverage_factor(dof, 0.99) * u_rate
    kept = kept and known
    return Repeats(
        readings=len(t),
        dof=free - 1 if kept else free,
        known=known,
        kept=kept,
        cents_per_min=rate,
        u_cents_per_min=u_rate,
        visit_scatter_cents=moving if kept else still,
    )


def _slope(
    group: NDArray[np.intp], t: Array | None, y: Array, u: Array, scatter: float
) -> tuple[float, float, float]:
    """Common slope over time within notes, its standard uncertainty, and the χ² left."""
    weight = 1.0 / (u**2 + scatter**2)
    total = np.bincount(group, weight)

    def about_mean(x: Array) -> Array:
        return np.asarray(x - (np.bincount(group, weight * x) / total)[group])

    dy = about_mean(y)
    if t is None:
        return 0.0, math.inf, float((weight * dy**2).sum())
    dt = about_mean(t)
    squares = float((weight * dt**2).sum())
    rate = float((weight * dt * dy).sum()) / squares
    return rate, 1.0 / math.sqrt(squares), float((weight * (dy - rate * dt) ** 2).sum())


def _scatter(group: NDArray[np.intp], t: Array | None, y: Array, u: Array, dof: int) -> float:
    """Scatter that makes χ² equal its degrees of freedom; 0 where the stated u explains it."""
    if dof < 1:
        return 0.0

    def excess(scatter: float) -> float:
        return _slope(group, t, y, u, scatter)[2] - dof

    if excess(0.0) <= 0.0:
        return 0.0
    high = float(np.ptp(y)) + 1e-6
    while excess(high) > 0.0:
        high *= 2.0
    return float(brentq(excess, 0.0, high, xtol=1e-9))
