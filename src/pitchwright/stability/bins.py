"""Readings gathered into bins: short at the start of a warm-up, longer as it slows down."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["Bins", "gather", "thinned"]

Array = NDArray[np.float64]
Whole = NDArray[np.intp]

SHORTEST_S: Final = 20.0
LONGEST_S: Final = 600.0
SHARE: Final = 20.0
"""A bin is no longer than this fraction of the time since the start: 1/20."""


CLOSEST_S: Final = 5.0
"""Readings closer than half of this are averaged first: no warm-up is quick enough to mind."""


def thinned(
    t_s: Array, cents: Array, temperature_c: Array | None
) -> tuple[Array, Array, Array | None]:
    """Readings a second apart and less, averaged over five seconds; others as they are.

    Parameters
    ----------
    t_s, cents
        Rising times and finite pitches, shape (n,).
    temperature_c
        At the same times, NaN where there was none.
    """
    if t_s.size < 2 or float(t_s[-1] - t_s[0]) > 0.5 * CLOSEST_S * (t_s.size - 1):
        return t_s, cents, temperature_c
    first = np.flatnonzero(np.diff(np.floor((t_s - t_s[0]) / CLOSEST_S), prepend=-1.0))

    def mean(values: Array) -> Array:
        seen = np.isfinite(values)
        count = np.add.reduceat(seen.astype(np.float64), first)
        total = np.add.reduceat(np.where(seen, values, 0.0), first)
        empty = np.full(first.size, np.nan)
        return np.asarray(np.divide(total, count, out=empty, where=count > 0))

    return mean(t_s), mean(cents), None if temperature_c is None else mean(temperature_c)


@dataclass(frozen=True, slots=True, eq=False)
class Bins:
    """Which readings belong together.

    Attributes
    ----------
    first, count
        Index of the first reading of each bin and how many it has, shape (m,).
    start_s, end_s
        When the bin begins and ends, half a reading interval beyond its readings, shape (m,).
    """

    first: Whole
    count: Whole
    start_s: Array
    end_s: Array

    @property
    def middle_s(self) -> Array:
        """Middle of each bin, shape (m,)."""
        return 0.5 * (self.start_s + self.end_s)

    def mean(self, values: Array) -> Array:
        """Mean of one value per reading over each bin, shape (m,)."""
        return np.asarray(np.add.reduceat(values, self.first) / self.count)


def gather(t_s: Array) -> Bins:
    """Lay bins over readings at rising times, shape (n,), n at least 1; empty bins are left out."""
    edges_s = [0.0]
    span_s = float(t_s[-1] - t_s[0])
    while edges_s[-1] <= span_s:
        edges_s.append(edges_s[-1] + min(max(SHORTEST_S, edges_s[-1] / SHARE), LONGEST_S))
    first = np.unique(np.searchsorted(t_s - t_s[0], np.array(edges_s[:-1])))
    first = first[first < t_s.size]
    count = np.diff(np.append(first, t_s.size))
    half_s = 0.5 * float(np.median(np.diff(t_s))) if t_s.size > 1 else 0.5
    start_s = t_s[first] - half_s
    end_s = t_s[first + count - 1] + half_s
    # Uneven readings can lie closer than half an interval to the next bin: bins must not overlap.
    meet_s = 0.5 * (t_s[first[1:]] + t_s[first[1:] - 1])
    start_s[1:] = np.maximum(start_s[1:], meet_s)
    end_s[:-1] = np.minimum(end_s[:-1], meet_s)
    return Bins(first, count, start_s, np.maximum(end_s, start_s + 1e-3))
