"""Many best straight lines at once: base free, slope within bounds, smallest greatest error.

For a given slope the best base is half-way between the highest and the lowest of what remains, so
the greatest error left is half of that spread: a convex function of the slope alone, without a
linear programme. Narrowing an interval in golden steps finds its minimum for any number of curves
and bounds side by side.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["best_lines"]

Array = NDArray[np.float64]

_GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0
_STEPS = 60


def best_lines(
    cents: ArrayLike, octaves: ArrayLike, low: ArrayLike, high: ArrayLike
) -> tuple[Array, Array, Array]:
    """Find slope and base to add to each curve, and the greatest error then left.

    Parameters
    ----------
    cents
        Curves, shape (..., n).
    octaves
        Where their notes are, shape (n,).
    low, high
        Bounds of the slope, cents per octave, broadcast against the curves, shape (...); infinite
        where it is free.

    Returns
    -------
    slope, base, left
        Cents per octave and cents (at 0 octaves) to add, and the greatest error left, each of the
        broadcast shape (...).
    """
    y, v = np.asarray(cents, dtype=np.float64), np.asarray(octaves, dtype=np.float64)
    least, most = np.broadcast_arrays(
        np.asarray(low, dtype=np.float64), np.asarray(high, dtype=np.float64)
    )
    shape = np.broadcast_shapes(y.shape[:-1], least.shape)
    # Beyond the steepest way between two neighbours a line can only do worse.
    if len(v) > 1:
        steepest = np.abs(np.diff(y, axis=-1) / np.diff(v)).max(axis=-1) + 1e-9
    else:
        steepest = np.zeros(y.shape[:-1])
    a = np.array(np.broadcast_to(np.clip(-steepest, least, most), shape))
    b = np.array(np.broadcast_to(np.clip(steepest, least, most), shape))

    def spread(slope: Array) -> Array:
        left = y + slope[..., None] * v
        return np.asarray(left.max(axis=-1) - left.min(axis=-1))

    c, d = b - _GOLDEN * (b - a), a + _GOLDEN * (b - a)
    at_c, at_d = spread(c), spread(d)
    for _ in range(_STEPS):
        lower = at_c < at_d
        a, b = np.where(lower, a, c), np.where(lower, d, b)
        kept, at_kept = np.where(lower, c, d), np.where(lower, at_c, at_d)
        fresh = np.where(lower, b - _GOLDEN * (b - a), a + _GOLDEN * (b - a))
        at_fresh = spread(fresh)
        c, d = np.where(lower, fresh, kept), np.where(lower, kept, fresh)
        at_c, at_d = np.where(lower, at_fresh, at_kept), np.where(lower, at_kept, at_fresh)
    slope = 0.5 * (a + b)
    # A minimum at a bound is met exactly, not to the last golden step; so is “leave it alone”.
    for exact in (least, most, np.clip(0.0, least, most)):
        trial = np.broadcast_to(np.where(np.isfinite(exact), exact, 0.0), shape)
        slope = np.where(
            np.isfinite(exact) & (spread(np.array(trial)) <= spread(slope) + 1e-12), trial, slope
        )
    left = y + slope[..., None] * v
    top, bottom = left.max(axis=-1), left.min(axis=-1)
    return slope, -0.5 * (top + bottom), 0.5 * (top - bottom)
