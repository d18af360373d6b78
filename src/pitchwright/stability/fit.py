"""One history explained by every warm-up and every kind of wander at once.

No single curve is picked. Every pair of time constants from a grid is fitted, under every noise
model from a second grid (how much the oscillator wanders at all times alike, how much it is
carried along by a room nobody measures), and each counts by how well it explains the readings.
What the readings cannot tell apart stays in the answer's interval; a picked model would leave it
out and be wrong most of the time. The noise models know that wander holds together over time.

All amplitudes enter linearly, so one factorisation of the covariance serves all pairs at once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, solve_triangular

from pitchwright.stability.bins import Bins, gather
from pitchwright.stability.exponentials import averaged_decay
from pitchwright.stability.thermometer import follow_late, smooth_temperature
from pitchwright.stability.wander import flicker_covariance, reading_noise_cents, slow_covariance

__all__ = ["LAGS_S", "TIME_CONSTANTS_S", "Posterior", "explain"]

Array = NDArray[np.float64]
Whole = NDArray[np.intp]

TIME_CONSTANTS_S: Final = np.geomspace(120.0, 3600.0, 10)
LAGS_S: Final = (0.0, 150.0, 350.0, 700.0)
"""How late the oscillator may follow the thermometer."""

_AMPLITUDE_CENTS: Final = 30.0
_COEFFICIENT_CENTS_PER_K: Final = 10.0
_BASE_CENTS: Final = 1e4
_FLICKER_CENTS: Final = (0.008, 0.018, 0.04, 0.09, 0.2, 0.45, 1.0)
_SLOW_CENTS: Final = (0.0, 0.4, 1.0, 2.2)
_SLOW_KNOWING_CENTS: Final = (0.0, 0.3)
"""What the room still does where its temperature is known."""


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """Fits of all models under all noises.

    Attributes
    ----------
    weight
        How much each counts, shape (noises, models), sum 1.
    mean, covariance
        Of rest, two amplitudes at the start and, with a temperature, its coefficient: shapes
        (noises, models, p) and (noises, models, p, p), p being 3 or 4.
    time_constants_s
        Of the two amplitudes, shape (models, 2).
    flicker_cents, slow_cents
        Level of each kind of wander, shape (noises,).
    lag_s
        How late each model follows the thermometer, shape (models,); empty without one.
    """

    weight: Array
    mean: Array
    covariance: Array
    time_constants_s: Array
    flicker_cents: Array
    slow_cents: Array
    lag_s: Array

    @property
    def knows_temperature(self) -> bool:
        """Whether a temperature took part."""
        return self.lag_s.size > 0

    def coefficient(self) -> tuple[float, float]:
        """Temperature coefficient per kelvin and its standard uncertainty; NaN without one."""
        if not self.knows_temperature:
            return math.nan, math.nan
        each, spread = self.mean[..., 3], self.covariance[..., 3, 3]
        mean = float(np.sum(self.weight * each))
        return mean, math.sqrt(float(np.sum(self.weight * (spread + (each - mean) ** 2))))


def explain(
    t_s: Array, cents: Array, temperature_c: Array | None = None, *, warming: bool = True
) -> tuple[Posterior, float]:
    """Fit every model under every noise.

    Parameters
    ----------
    t_s, cents
        Readings in the order of time, finite, shape (n,). The amplitudes refer to ``t_s[0]``.
    temperature_c
        At the same times, shape (n,), NaN where there was none; it counts where it has at least
        two readings.
    warming
        False leaves the exponentials out: for an oscillator known to be warm.

    Returns
    -------
    Posterior, float
        And the pitch in cents that its rests are counted from.
    """
    since_s = t_s - t_s[0]
    offset_cents = float(cents[-1])
    bins = gather(t_s)
    columns = [
        np.ones((bins.first.size, 1)),
        averaged_decay(since_s, bins.first, bins.count, TIME_CONSTANTS_S),
    ]
    lags = 0
    if temperature_c is not None and np.isfinite(temperature_c).sum() > 1:
        lags = len(LAGS_S)
        smooth_c = smooth_temperature(t_s, temperature_c)
        # From the first value: what was felt before the start is no longer to be felt.
        smooth_c = smooth_c - smooth_c[0]
        columns += [bins.mean(follow_late(t_s, smooth_c, lag_s))[:, None] for lag_s in LAGS_S]
    noise_cents = max(reading_noise_cents(cents), 1e-3)
    design = np.hstack(columns)
    return _fit(design, bins.mean(cents - offset_cents), bins, noise_cents, lags, warming), (
        offset_cents
    )


@cache
def _models(lags: int, warming: bool) -> tuple[Whole, Array, Array]:
    """Columns of the design, prior precision and log prior of each model.

    A model of one time constant is a pair whose second amplitude is held at zero, one of none a
    pair with both held. Returns shapes (m, p), (m, p), (m,).
    """
    k = TIME_CONSTANTS_S.size
    free, held = _AMPLITUDE_CENTS**-2, 1e9
    singles = [((i, (i + 1) % k), (free, held)) for i in range(k)]
    pairs = [((i, j), (free, free)) for i in range(k) for j in range(i + 1, k)]
    # One and two time constants are as likely beforehand.
    shapes = [(s, len(singles)) for s in singles] + [(p, len(pairs)) for p in pairs]
    if not warming:
        shapes = [(((0, 1), (held, held)), 1)]
    columns, precision, prior = [], [], []
    for lag in range(max(lags, 1)):
        for ((i, j), (first, second)), alike in shapes:
            columns.append([0, 1 + i, 1 + j] + ([1 + k + lag] if lags else []))
            room = [_COEFFICIENT_CENTS_PER_K**-2] if lags else []
            precision.append([_BASE_CENTS**-2, first, second, *room])
            prior.append(-math.log(alike))
    return np.array(columns), np.array(precision), np.array(prior)


@cache
def _noises(lags: int) -> tuple[tuple[float, float], ...]:
    slow = _SLOW_KNOWING_CENTS if lags else _SLOW_CENTS
    return tuple((level, carried) for level in _FLICKER_CENTS for carried in slow)


def _fit(
    design: Array, cents: Array, bins: Bins, noise_cents: float, lags: int, warming: bool
) -> Posterior:
    flicker = flicker_covariance(bins.start_s, bins.end_s)
    slow = slow_covariance(bins.middle_s)
    reading = np.diag(noise_cents**2 / bins.count)
    columns, precision, prior = _models(lags, warming)
    known = np.column_stack([design, cents])
    last = known.shape[1] - 1
    grams, constants = [], []
    for level_cents, slow_cents in _noises(lags):
        covariance = reading + level_cents**2 * flicker + slow_cents**2 * slow
        factor, _ = cho_factor(covariance, lower=True, overwrite_a=True, check_finite=False)
        white = solve_triangular(factor, known, lower=True, check_finite=False)
        grams.append(white.T @ white)
        constants.append(-float(np.sum(np.log(np.diag(factor)))))
    gram = np.array(grams)
    normal = gram[:, columns[:, :, None], columns[:, None, :]] + np.einsum(
        "mp,pq->mpq", precision, np.eye(columns.shape[1])
    )
    covariances = np.linalg.inv(normal)
    right = gram[:, columns, last]
    mean = np.einsum("hmpq,hmq->hmp", covariances, right)
    explained = np.einsum("hmp,hmp->hm", mean, right)
    _, log_normal = np.linalg.slogdet(normal)
    log_weight = (
        np.array(constants)[:, None]
        - 0.5 * (gram[:, last, last][:, None] - explained)
        - 0.5 * (log_normal - np.sum(np.log(precision), axis=1))
        + prior
    )
    weight = np.exp(log_weight - np.max(log_weight))
    level, carried = np.array(_noises(lags)).T
    return Posterior(
        weight / np.sum(weight),
        mean,
        covariances,
        TIME_CONSTANTS_S[columns[:, 1:3] - 1],
        level,
        carried,
        np.array(LAGS_S)[columns[:, 3] - 1 - TIME_CONSTANTS_S.size] if lags else np.empty(0),
    )
