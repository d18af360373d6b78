"""Averaging what the harmonics say, each with its own variance, without trusting any blindly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

__all__ = ["Average", "average", "stretched"]

Array = NDArray[np.float64]

_ROUNDS = 4
# Deviations beyond this many standard deviations count less and less.
_OUTLYING = 3.5
_CHANCE = 1e-4
_MEDIAN_OFF = 0.6745  # of a normal variable, in standard deviations
# Partials count as stretched where so many at least lie on the curve that stretching bends them
# along, it explains this share of their disagreement, and it is this many times its own
# uncertainty.
_FEWEST_STRETCHED = 4
_HIGHEST_STRETCHED = 12
_EXPLAINED = 0.8
_SIGNIFICANT = 8.0


@dataclass(frozen=True, slots=True)
class Average:
    """A weighted mean and its standard uncertainty.

    Attributes
    ----------
    mean
        Weighted mean.
    u
        Standard uncertainty of the mean, disagreement between the values included.
    """

    mean: float
    u: float


def average(values: Array, variances: Array, orders: NDArray[np.intp]) -> Average:
    """Average offsets of harmonics ``orders``, given their variances from noise alone.

    A weak second tone disturbs the phase of each harmonic by about the same angle, that is, what
    harmonic k says about the fundamental by that angle over k. Where the values scatter more than
    their variances allow, such a term is added, of the size that makes the scatter as expected
    (the estimator of Paule and Mandel, J. Res. NBS 87, 377, 1982; from memory).
    """
    if len(values) == 1:
        return Average(float(values[0]), float(np.sqrt(variances[0])))
    shape = 1.0 / orders.astype(np.float64) ** 2
    # Against the median and the usual scatter at first: one wild value must not pass for scatter.
    off = np.abs(values - np.median(values)) / np.sqrt(variances)
    usual = max(1.0, float(np.median(off)) / _MEDIAN_OFF)
    trust = _trusted(off / usual)
    mean = 0.0
    weights = trust / variances
    for _ in range(_ROUNDS):
        extra = _extra(values, variances, shape, trust)
        spread = variances + extra * shape
        weights = trust / spread
        mean = float(weights @ values / weights.sum())
        off = np.abs(values - mean) / np.sqrt(spread)
        trust = _trusted(off)
    u2 = 1.0 / float(weights.sum())
    return Average(mean, float(np.sqrt(u2)))


def stretched(values: Array, variances: Array, orders: NDArray[np.intp], mean: float) -> float:
    """What stretched partials say of the fundamental less the average; 0 where they are not.

    Partial k of a stiff string lies at k f √(1 + B k²) (Fletcher, J. Acoust. Soc. Am. 36, 203,
    1964; from memory), so that what each says of the fundamental grows with k². An oscillator's
    harmonics are exact; where they follow such a curve, it is no oscillator, or several.
    """
    low = orders <= _HIGHEST_STRETCHED
    if np.count_nonzero(low) < _FEWEST_STRETCHED:
        return 0.0
    k2, y = orders[low].astype(np.float64) ** 2, values[low]
    weights = 1.0 / variances[low]
    basis = np.stack([np.ones_like(k2), k2], axis=1)
    normal = basis.T @ (basis * weights[:, None])
    law = np.linalg.solve(normal, basis.T @ (weights * y))
    off = y - float(weights @ y / weights.sum())
    left = y - basis @ law
    disagreement = float(weights @ off**2)
    scatter = max(float(weights @ left**2) / (len(y) - 2), 1.0)
    u = float(np.sqrt(np.linalg.inv(normal)[1, 1] * scatter))
    explained = disagreement - float(weights @ left**2)
    if explained < _EXPLAINED * disagreement or abs(law[1]) < _SIGNIFICANT * u:
        return 0.0
    return float(law[0] + law[1] - mean)


def _trusted(off: Array) -> Array:
    """Weight of a value this many standard deviations off."""
    return np.where(off > _OUTLYING, (_OUTLYING / np.maximum(off, _OUTLYING)) ** 4, 1.0)


def _extra(values: Array, variances: Array, shape: Array, trust: Array) -> float:
    """The multiple of ``shape`` to add so that chi-squared equals its degrees of freedom."""

    def excess(extra: float) -> float:
        weights = trust / (variances + extra * shape)
        mean = float(weights @ values / weights.sum())
        return float(weights @ (values - mean) ** 2) - (float(trust.sum()) - 1.0)

    # Chance alone exceeds its expectation half the time, and with few harmonics the term hands all
    # weight to the highest: only what chance would do once in ten thousand times is corrected.
    freedom = float(trust.sum()) - 1.0
    if freedom <= 0 or excess(0.0) <= special.chdtri(freedom, _CHANCE) - freedom:
        return 0.0
    low, high = 0.0, float(np.median(variances / shape))
    while excess(high) > 0 and high < 1e30:
        high *= 4.0
    for _ in range(14):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if excess(middle) > 0 else (low, middle)
    return high
