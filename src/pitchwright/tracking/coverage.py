"""From standard to expanded uncertainty: Student's t where the degrees of freedom are few."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final

from scipy.special import stdtrit

__all__ = ["K2", "combined_dof", "coverage_factor", "expanded_u"]

K2: Final = math.erf(math.sqrt(2.0))
"""Probability that k = 2 covers of a normal distribution: 95.45 % (GUM, table G.1)."""


@lru_cache(maxsize=4096)
def coverage_factor(dof: float, probability: float = K2) -> float:
    """Coverage factor k of a two-sided interval, from Student's t (GUM, annex G).

    Parameters
    ----------
    dof
        Degrees of freedom, 1 or more; infinite for a normal distribution (k = 2). Fractions are
        allowed, as the Welch-Satterthwaite formula gives them; below 1 counts as 1.
    probability
        What the interval covers.
    """
    upper = 0.5 * (1.0 + probability)
    return float(stdtrit(max(dof, 1.0) if math.isfinite(dof) else 1e12, upper))


def expanded_u(u: float, dof: float = math.inf) -> float:
    """U = k·u of a standard uncertainty in any unit: what covers 95.45 %."""
    return coverage_factor(dof) * u


def combined_dof(*parts: tuple[float, float]) -> float:
    """Degrees of freedom of a root sum of squares (Welch-Satterthwaite, GUM equation G.2b).

    Parameters
    ----------
    parts
        Pairs of a standard uncertainty and its degrees of freedom.
    """
    largest = max((u for u, _ in parts), default=0.0)
    if largest <= 0.0:
        return math.inf
    whole = sum((u / largest) ** 2 for u, _ in parts)
    share = sum((u / largest) ** 4 / dof for u, dof in parts)
    return whole**2 / share if share > 0.0 else math.inf
