"""What an oscillator does besides warming up: how its unsteadiness holds together over time.

Wander is not a fresh error in each reading. A forecast that takes it for one believes that a
hundred readings pin the curve down ten times better than one does, and its intervals come out
several times too narrow.
"""

from __future__ import annotations

import math
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "flicker_covariance",
    "reading_noise_cents",
    "slow_covariance",
    "smooth_correlation",
    "spread_within_flicker",
    "spread_within_slow",
    "spread_within_walk",
    "walk_covariance",
]

Array = NDArray[np.float64]

_STEP: Final = 4.0
_LIFETIMES_S: Final = tuple(_STEP**k for k in range(10))
"""Lifetimes from 1 s to 3 days. One relaxing disturbance per step, all of one variance, add up to
a 1/f spectrum; with a step of four that variance is just the Allan variance, ln 4 / (2 ln 2)."""

_SLOW_S: Final = 2400.0
"""The scale over which a room's temperature, unseen, carries an oscillator along."""

_LEAST_FOR_FOURTH: Final = 12
_MEDIAN_OF_NORMAL: Final = 0.6744897501960817
"""Median of the absolute value of a standard normal variable."""


def flicker_covariance(start_s: Array, end_s: Array) -> Array:
    """Covariance of flicker wander of unit Allan deviation, averaged over bins.

    Parameters
    ----------
    start_s, end_s
        Where each bin begins and ends, in order and without overlap, shape (n,).

    Returns
    -------
    Array
        Shape (n, n), in units of the Allan variance.
    """
    width_s = end_s - start_s
    gap_s = np.maximum(start_s[:, None] - end_s[None, :], 0.0)
    gap_s = np.maximum(gap_s, gap_s.T)
    total = np.zeros_like(gap_s)
    diagonal = np.zeros_like(width_s)
    for lifetime_s in _LIFETIMES_S:
        ratio = width_s / lifetime_s
        smooth = -np.expm1(-ratio) / ratio
        total += np.exp(-gap_s / lifetime_s) * np.outer(smooth, smooth)
        diagonal += 2.0 / ratio * (1.0 - smooth)
    np.fill_diagonal(total, diagonal)
    return total


def slow_covariance(at_s: Array) -> Array:
    """Covariance of a smooth wander of unit variance over about 40 minutes, shape (n, n)."""
    return smooth_correlation(np.abs(at_s[:, None] - at_s), _SLOW_S)


def smooth_correlation(away_s: Array, scale_s: float) -> Array:
    """How alike two moments are, so far apart, in what moves smoothly; shape of ``away_s``.

    The Matérn function of order 5/2.
    """
    x = math.sqrt(5.0) / scale_s * away_s
    return np.asarray((1.0 + x + x * x / 3.0) * np.exp(-x))


def walk_covariance(since_s: Array) -> Array:
    """Covariance of a random walk that begins at zero, its deviation 1 after a minute, (n, n)."""
    return np.asarray(np.minimum(since_s[:, None], since_s) / 60.0)


@cache
def spread_within_flicker(span_s: float) -> float:
    """Variance about its own mean, over a span, of flicker wander of unit Allan deviation.

    Pitch averaged over a thirtieth of the span: a minute of half an hour.
    """
    edges_s = np.linspace(0.0, span_s, 31)
    return _spread(flicker_covariance(edges_s[:-1], edges_s[1:]))


@cache
def spread_within_slow(span_s: float) -> float:
    """Variance about its own mean, over a span, of the slow wander of unit variance."""
    return _spread(slow_covariance(np.linspace(0.0, span_s, 31)))


@cache
def spread_within_walk(span_s: float) -> float:
    """Variance about its own mean, over a span, of a random walk of unit deviation a minute."""
    return _spread(walk_covariance(np.linspace(0.0, span_s, 31)))


def _spread(covariance: Array) -> float:
    return float(np.mean(np.diag(covariance)) - np.mean(covariance))


def reading_noise_cents(cents: Array) -> float:
    """Standard deviation of what is new in each reading, from fourth differences.

    A fourth difference of white noise has 70 times its variance and hardly sees a warm-up, even
    where readings are minutes apart; the median keeps a few stray readings from counting. Second
    differences (6 times) where there are fewer than twelve readings, zero below three.
    """
    order, gain = (4, 70.0) if cents.size >= _LEAST_FOR_FOURTH else (2, 6.0)
    if cents.size <= order:
        return 0.0
    return float(np.median(np.abs(np.diff(cents, order))) / _MEDIAN_OF_NORMAL / math.sqrt(gain))
