"""Where a scale trimmer's pivot lies: a density with a spike at 0 V.

Half of all scale trimmers sit in the control voltage's own leg and turn about 0 V exactly; the
others turn about some frequency below or within the range. A density with a spike says both at
once, and one sizeable turn decides.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["PivotDensity"]

Array = NDArray[np.float64]

_LOWEST_V, _HIGHEST_V, _STEP_V = -3.0, 11.0, 0.01
_GRID = np.arange(_LOWEST_V, _HIGHEST_V + _STEP_V / 2, _STEP_V)


@dataclass(frozen=True, slots=True, eq=False)
class PivotDensity:
    """Probabilities over candidate pivots.

    Attributes
    ----------
    pivot_v
        Candidates: the spike first, then an even grid, shape (m,).
    weight
        Their probabilities, summing to 1, shape (m,).
    """

    pivot_v: Array
    weight: Array

    @classmethod
    def unknown(cls, zero_v: float = 0.0, spike: float = 0.5) -> PivotDensity:
        """Nothing known: a spike at 0 V, else anywhere from below the range to above it."""
        flat = np.where(
            (_GRID >= -1.5) & (_GRID <= 9.0), 1.0, 0.02
        )  # tails: odd circuits exist, but rarely
        return cls(
            np.concatenate([[zero_v], _GRID]),
            np.concatenate([[spike], (1.0 - spike) * flat / flat.sum()]),
        )

    @classmethod
    def near(cls, pivot_v: float, u_v: float, *, at_zero: bool = False) -> PivotDensity:
        """Known from before, within ``u_v``; a little doubt stays."""
        spike = 0.95 if at_zero else 0.01
        bell = np.exp(-0.5 * ((_GRID - pivot_v) / max(u_v, _STEP_V)) ** 2)
        bell = 0.998 * bell / max(float(bell.sum()), 1e-300) + 0.002 / len(_GRID)
        return cls(
            np.concatenate([[0.0], _GRID]),
            np.concatenate([[spike], (1.0 - spike) * bell / bell.sum()]),
        )

    @classmethod
    def at(cls, pivot_v: float) -> PivotDensity:
        """Known for certain, as for a buffered multiple's output trim."""
        return cls(np.array([pivot_v]), np.array([1.0]))

    @property
    def u_v(self) -> float:
        """Half width about the best that holds 90 in 100, as a standard deviation.

        Not the second moment: a doubt of one in a thousand somewhere far off would rule it.
        """
        off = np.abs(self.pivot_v - self.best_v)
        nearest = np.argsort(off)
        held = np.cumsum(self.weight[nearest])
        return float(off[nearest[min(int(np.searchsorted(held, 0.9)), len(off) - 1)]]) / 1.645

    @property
    def best_v(self) -> float:
        """Most believable pivot: the spike, or the mean about the highest peak beside it."""
        peak = int(self.weight[1:].argmax()) + 1 if len(self.weight) > 1 else 0
        near = np.abs(self.pivot_v - self.pivot_v[peak]) <= 10 * _STEP_V
        mass = float(self.weight[near].sum())
        if self.weight[0] >= mass:
            return float(self.pivot_v[0])
        return float(self.weight[near] @ self.pivot_v[near]) / mass

    @property
    def is_spike(self) -> bool:
        """Whether 0 V is more believable than all the rest together."""
        return bool(self.weight[0] > 0.5)

    def updated(self, log_likelihood: Array) -> PivotDensity:
        """Bayes: weight by the likelihood of each candidate, shape (m,)."""
        raised = self.weight * np.exp(log_likelihood - log_likelihood.max())
        total = float(raised.sum())
        return PivotDensity(self.pivot_v, raised / total) if total > 0.0 else self
