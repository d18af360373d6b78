"""From year to year: how fast it drifts, whether two surveys differ, when it is due.

Surveys are made now and then, and trimming comes between them, so drift is what happened from an
as-left survey to the as-found survey that follows it; each such interval is independent of the
others.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from pitchwright.tracking.conformity import Conformity, stands
from pitchwright.tracking.coverage import expanded_u

__all__ = [
    "DAYS_PER_MONTH",
    "ControlLimits",
    "DriftRate",
    "Interval",
    "control_limits",
    "drift_rate",
    "months_until",
    "normalised_error",
]

DAYS_PER_MONTH: Final = 365.25 / 12.0

_PRIOR_DOF: Final = 2.0
"""What “no less regular than its readings” counts for (a judgement of ours)."""
_MOVING_RANGE_FACTOR: Final = 3.0 / 1.128
"""Three standard deviations per mean moving range of two (d2 = 1.128, from memory)."""


def normalised_error(
    first: float, expanded_first: float, second: float, expanded_second: float
) -> float:
    """E_n of two results: the difference over the root sum of squared expanded uncertainties.

    Above 1 they differ by more than their uncertainties explain (ISO/IEC 17043, from memory).

    Parameters
    ----------
    first, second
        The two results, in one unit.
    expanded_first, expanded_second
        Their expanded uncertainties (k = 2 or the like), same unit, not both zero.
    """
    return abs(first - second) / math.hypot(expanded_first, expanded_second)


@dataclass(frozen=True, slots=True)
class Interval:
    """What changed between an as-left survey and the as-found survey that follows.

    Attributes
    ----------
    months
        How long, above zero.
    change
        As found minus as left, in any one unit.
    u_change
        Its standard uncertainty.
    """

    months: float
    change: float
    u_change: float


@dataclass(frozen=True, slots=True)
class DriftRate:
    """A drift per month.

    Attributes
    ----------
    per_month
        In the changes' unit per month.
    u
        Standard uncertainty, widened where the intervals disagree more than their readings allow.
    dof
        Degrees of freedom of ``u``: intervals minus one, and two more where they agree as well as
        their readings allow.
    intervals
        How many it rests on.
    """

    per_month: float
    u: float
    dof: float
    intervals: int

    @property
    def expanded(self) -> float:
        """U: what covers 95.45 %, Student's t where the degrees of freedom are few."""
        return expanded_u(self.u, self.dof)


def drift_rate(intervals: Sequence[Interval]) -> DriftRate | None:
    """Weighted regression of change on time through the origin; None without an interval.

    Through the origin, because no time means no change; weights 1/u².
    """
    if not intervals:
        return None
    months = np.array([interval.months for interval in intervals])
    change = np.array([interval.change for interval in intervals])
    weight = 1.0 / np.maximum([interval.u_change for interval in intervals], 1e-9) ** 2
    norm = float((weight * months**2).sum())
    rate = float((weight * months * change).sum()) / norm
    dof = len(intervals) - 1
    left = float((weight * (change - rate * months) ** 2).sum())
    if dof > 0 and left > dof:
        return DriftRate(rate, math.sqrt(left / dof / norm), dof, len(intervals))
    # Few intervals that happen to agree do not show that it is as regular as its readings.
    return DriftRate(rate, math.sqrt(1.0 / norm), _PRIOR_DOF + dof, len(intervals))


def months_until(
    limit: float, now: float, expanded_now: float, rate: DriftRate
) -> tuple[float, float]:
    """Months until an error may reach a limit: as the drift expects, and at the earliest.

    Parameters
    ----------
    limit
        Greatest allowed error, above zero.
    now, expanded_now
        The error now (either sign) and its expanded uncertainty.
    rate
        Its drift.

    Returns
    -------
    expected, earliest
        Infinite where it never does. Earliest is when the limit comes inside the expanded
        uncertainty of the forecast, the guard band of a certificate.
    """

    def surely_inside(months: float, uncertain: bool) -> bool:
        spread = math.hypot(expanded_now, rate.expanded * months) if uncertain else 0.0
        return stands(now + rate.per_month * months, spread, limit) is Conformity.INSIDE

    return (
        _first_outside(lambda months: surely_inside(months, False)),
        _first_outside(lambda months: surely_inside(months, True)),
    )


_LONGEST_MONTHS: Final = 1200.0


def _first_outside(inside: Callable[[float], bool]) -> float:
    if not inside(0.0):
        return 0.0
    # |a + b·t| + hypot(c, d·t) is convex in t: once outside it stays outside, if it starts inside.
    if inside(_LONGEST_MONTHS):
        return math.inf
    low, high = 0.0, _LONGEST_MONTHS
    while high - low > 1e-3:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if inside(middle) else (low, middle)
    return high


@dataclass(frozen=True, slots=True)
class ControlLimits:
    """Limits within which a figure varies by chance alone.

    Attributes
    ----------
    centre, low, high
        Mean and limits, in the figure's unit.
    outside
        Places in the sequence, from 0, that lie outside.
    """

    centre: float
    low: float
    high: float
    outside: tuple[int, ...]


def control_limits(figures: Sequence[float]) -> ControlLimits | None:
    """Three-sigma limits from the mean moving range of two; None for fewer than three figures.

    The individuals chart of W. A. Shewhart (from memory): single results in order of time.
    """
    if len(figures) < 3:
        return None
    series = np.asarray(figures, dtype=np.float64)
    centre = float(series.mean())
    half = _MOVING_RANGE_FACTOR * float(np.abs(np.diff(series)).mean())
    # What lies on a limit but for rounding is not outside, as where all figures are the same.
    outside = np.flatnonzero(np.abs(series - centre) > half + 1e-9 * max(abs(centre), 1.0))
    return ControlLimits(centre, centre - half, centre + half, tuple(int(i) for i in outside))
