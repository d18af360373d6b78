"""The shape of a warm-up: decaying exponentials, how far they still go, and until when."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["averaged_decay", "moves_ahead_cents", "time_to_settle_s"]

Array = NDArray[np.float64]
Whole = NDArray[np.intp]

_MOMENTS: Final = 6


def averaged_decay(t_s: Array, first: Whole, count: Whole, time_constants_s: Array) -> Array:
    """Mean of exp(-t / time constant) over the readings of each bin.

    The mean over the readings, not the value at the middle of the bin: with a time constant of
    three minutes and a bin of one, the middle is off by half a percent of the amplitude.

    Parameters
    ----------
    t_s
        Times of all readings in order, shape (n,).
    first
        Index of the first reading of each bin, shape (m,).
    count
        Readings in each bin, shape (m,).
    time_constants_s
        Shape (k,).

    Returns
    -------
    Array
        Shape (m, k).
    """
    decay = np.empty((first.size, time_constants_s.size))
    for column, tau_s in enumerate(time_constants_s):
        decay[:, column] = np.add.reduceat(np.exp(-t_s / tau_s), first) / count
    return decay


def moves_ahead_cents(
    amplitudes_cents: Array, time_constants_s: Array, at_s: Array, horizon_s: float
) -> Array:
    """How far each of many warm-ups has moved from its pitch at a time, at moments after it.

    Parameters
    ----------
    amplitudes_cents
        Shape (n, k).
    time_constants_s
        Of each amplitude, shape (n, k); or the same for all warm-ups, shape (k,).
    at_s
        Shape (m,).
    horizon_s
        How far ahead to look.

    Returns
    -------
    Array
        Shape (n, 6, m): at six moments, the last at the end of the horizon. A sum of
        exponentials turns back softly: its greatest departure from the pitch at a time is within
        two percent of the greatest of these.
    """
    ahead_s = horizon_s * np.arange(1, _MOMENTS + 1) / _MOMENTS
    if time_constants_s.ndim == 1:
        moved = np.expm1(-ahead_s[:, None] / time_constants_s)
        decayed = np.exp(-at_s / time_constants_s[:, None])
        return np.asarray((amplitudes_cents[:, None] * moved) @ decayed)
    moved = np.expm1(-ahead_s[:, None] / time_constants_s[:, None])
    decayed = np.exp(-at_s / time_constants_s[:, :, None])
    return np.asarray((amplitudes_cents[:, None] * moved) @ decayed)


def time_to_settle_s(departure_cents: Array, ahead_s: Array, tolerance_cents: float) -> Array:
    """When each warm-up comes inside the tolerance for good.

    Parameters
    ----------
    departure_cents
        Greatest departure within the horizon, shape (n, m).
    ahead_s
        The times the columns stand for, rising from 0, shape (m,).
    tolerance_cents
        What the departure must stay under.

    Returns
    -------
    Array
        Shape (n,): 0 where it is inside already, infinite where it is still outside at the end;
        between two times the departure is taken to fall exponentially.
    """
    over = departure_cents > tolerance_cents
    last = over.shape[1] - 1 - np.argmax(over[:, ::-1], axis=1)
    settles_s = np.zeros(over.shape[0])
    never = over[:, -1]
    crossing = np.flatnonzero(over.any(axis=1) & ~never)
    before = last[crossing]
    high = np.log(departure_cents[crossing, before] / tolerance_cents)
    low = np.log(np.maximum(departure_cents[crossing, before + 1], 1e-12) / tolerance_cents)
    step_s = ahead_s[before + 1] - ahead_s[before]
    settles_s[crossing] = ahead_s[before] + step_s * high / (high - low)
    settles_s[never] = np.inf
    return settles_s
