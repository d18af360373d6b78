"""The shape of a warm-up: decaying exponentials, how far they still go, and until when."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["averaged_decay", "greatest_departure_cents", "time_to_settle_s"]

Array = NDArray[np.float64]
Whole = NDArray[np.intp]


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


def greatest_departure_cents(
    amplitudes_cents: Array, time_constants_s: Array, at_s: Array, horizon_s: float
) -> Array:
    """How far each of many warm-ups moves from its pitch at a time, within the horizon after it.

    Parameters
    ----------
    amplitudes_cents, time_constants_s
        Two per warm-up, shape (n, 2); an amplitude may be zero, the time constants differ.
    at_s
        Shape (m,).
    horizon_s
        How far ahead to look.

    Returns
    -------
    Array
        Shape (n, m). Two exponentials turn back at most once, so the greatest departure is at the
        end of the horizon or at the turning point.
    """
    a1, a2 = amplitudes_cents[:, :1], amplitudes_cents[:, 1:]
    tau1_s, tau2_s = time_constants_s[:, :1], time_constants_s[:, 1:]
    now1, now2 = a1 * np.exp(-at_s / tau1_s), a2 * np.exp(-at_s / tau2_s)
    departure = np.abs(now1 * np.expm1(-horizon_s / tau1_s) + now2 * np.expm1(-horizon_s / tau2_s))
    opposed = (a1 * a2)[:, 0] < 0.0
    if np.any(opposed):
        a1, a2, tau1_s, tau2_s = a1[opposed], a2[opposed], tau1_s[opposed], tau2_s[opposed]
        turn_s = np.log(-a1 * tau2_s / (a2 * tau1_s)) / (1.0 / tau1_s - 1.0 / tau2_s)
        ahead_s = np.clip(turn_s - at_s, 0.0, horizon_s)
        at_turn = np.abs(
            now1[opposed] * np.expm1(-ahead_s / tau1_s)
            + now2[opposed] * np.expm1(-ahead_s / tau2_s)
        )
        departure[opposed] = np.maximum(departure[opposed], at_turn)
    return np.asarray(departure, dtype=np.float64)


def time_to_settle_s(departure_cents: Array, ahead_s: Array, tolerance_cents: float) -> Array:
    """When each warm-up comes inside the tolerance for good.

    Parameters
    ----------
    departure_cents
        Shape (n, m), from `greatest_departure_cents`.
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
