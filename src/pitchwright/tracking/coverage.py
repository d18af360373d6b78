"""From standard to expanded uncertainty: Student's t where the degrees of freedom are few."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final

from scipy.special import erf, stdtrit

__all__ = ["K2", "coverage_factor"]

K2: Final = float(erf(math.sqrt(2.0)))
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
