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

__all__ = ["DRAWN", "Posterior", "explain"]

Array = NDArray[np.float64]
Whole = NDArray[np.intp]

TIME_CONSTANTS_S: Final = np.geomspace(120.0, 3600.0, 24)
LAGS_S: Final = (0.0, 150.0, 350.0, 700.0)
"""How late the oscillator may follow the thermometer."""

_AMPLITUDE_CENTS: Final = 30.0
_COEFFICIENT_CENTS_PER_K: Final = 15.0
_BASE_CENTS: Final = 1e4
_HELD: Final = 1e9
"""Precision of an amplitude that is held at zero."""
DRAWN: Final = 512
_FLICKER_CENTS: Final = tuple(0.008 * 1.7**k for k in range(10))
_SLOW_CENTS: Final = (0.0, 0.4, 1.0, 2.2, 6.0)
_SLOW_KNOWING_CENTS: Final = (0.0, 0.08, 0.3)
"""What the room still does where its temperature is known."""


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """The fits that count, out of all models under all noises.

    Fits are drawn in even steps of their cumulated weight; what was drawn never is left out, so
    a share below one in `DRAWN` is not to be had.

    Attributes
    ----------
    times_drawn
        How often each fit was drawn, shape (n,), sum `DRAWN`.
    mean, covariance
        Of rest, two amplitudes at the start and, with a temperature, its coefficient: shapes
        (n, p) and (n, p, p), p being 3 or 4.
    time_constants_s
        Of the two amplitudes, shape (n, 2).
    flicker_cents, u_flicker_cents
        Level of the flicker wander (its Allan deviation) with standard uncertainty.
    slow_cents, u_slow_cents
        Level of the slow wander (its root mean square) with standard uncertainty.
    lag_s
        How late each fit follows the thermometer, shape (n,); empty without one.
    """

    times_drawn: Whole
    mean: Array
    covariance: Array
    time_constants_s: Array
    flicker_cents: float
    u_flicker_cents: float
    slow_cents: float
    u_slow_cents: float
    lag_s: Array

    def average(self, each: Array) -> tuple[float, float]:
        """Weighted mean and standard deviation of one figure per fit."""
        share = self.times_drawn / DRAWN
        mean = float(share @ each)
        return mean, math.sqrt(float(share @ (each - mean) ** 2))

    def coefficient(self) -> tuple[float, float]:
        """Temperature coefficient per kelvin and its standard uncertainty; NaN without one."""
        if not self.lag_s.size:
            return math.nan, math.nan
        mean, between = self.average(self.mean[:, 3])
        within, _ = self.average(self.covariance[:, 3, 3])
        return mean, math.hypot(between, math.sqrt(within))


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
def _noises(lags: int) -> Array:
    """Level of flicker and of slow wander of each noise model, shape (noises, 2)."""
    slow = _SLOW_KNOWING_CENTS if lags else _SLOW_CENTS
    return np.array([(level, carried) for level in _FLICKER_CENTS for carried in slow])


@cache
def _pairs() -> tuple[Whole, Array]:
    """Indices of the two time constants of each model, shape (2, models), and its log prior.

    Models of one time constant come first, named twice; one and two are as likely beforehand.
    """
    k = TIME_CONSTANTS_S.size
    one = np.arange(k)
    first, second = np.triu_indices(k, 1)
    prior = np.concatenate([np.full(k, -math.log(k)), np.full(first.size, -math.log(first.size))])
    return np.array([np.concatenate([one, first]), np.concatenate([one, second])]), prior


def _fit(
    design: Array, cents: Array, bins: Bins, noise_cents: float, lags: int, warming: bool
) -> Posterior:
    free = max(_AMPLITUDE_CENTS, float(np.ptp(cents))) ** -2
    known = np.column_stack([design, cents])
    grams, constant = _grams(known, bins, noise_cents, lags)
    log_weight = _log_weights(grams, constant, free, lags, warming)
    weight = np.exp(log_weight - np.max(log_weight))
    steps = (np.arange(DRAWN) + 0.5) / DRAWN * np.sum(weight)
    chosen = np.minimum(np.searchsorted(np.cumsum(weight), steps), weight.size - 1)
    chosen, times = np.unique(chosen, return_counts=True)
    noise, lag, model = np.unravel_index(chosen, log_weight.shape)
    (first, second), _ = _pairs()
    first, second = first[model], second[model]
    held = np.where(first == second, _HELD, free)
    # A model without a second time constant still needs one that differs, for its zero amplitude.
    second = np.where(first == second, (first + 1) % TIME_CONSTANTS_S.size, second)
    k = TIME_CONSTANTS_S.size
    columns = [np.zeros_like(first), 1 + first, 1 + second] + ([1 + k + lag] if lags else [])
    index = np.stack(columns, axis=1)
    precision = np.stack(
        [
            np.full(held.shape, _BASE_CENTS**-2),
            np.full(held.shape, free if warming else _HELD),
            held if warming else np.full(held.shape, _HELD),
            np.full(held.shape, _COEFFICIENT_CENTS_PER_K**-2),
        ][: index.shape[1]],
        axis=1,
    )
    normal = grams[noise[:, None, None], index[:, :, None], index[:, None, :]]
    normal = normal + precision[:, :, None] * np.eye(index.shape[1])
    covariance = np.linalg.inv(normal)
    mean = np.einsum("npq,nq->np", covariance, grams[noise[:, None], index, -1])
    return Posterior(
        times,
        mean,
        covariance,
        TIME_CONSTANTS_S[np.stack([first, second], axis=1)],
        *_levels(np.sum(weight, axis=(1, 2)), lags),
        np.array(LAGS_S)[lag] if lags else np.empty(0),
    )


def _levels(weight: Array, lags: int) -> tuple[float, float, float, float]:
    """Level of each wander and its standard uncertainty, from the weight of each noise model."""
    by_level = weight.reshape(len(_FLICKER_CENTS), -1)
    share = np.sum(by_level, axis=1) / np.sum(by_level)
    log_level = np.log(_FLICKER_CENTS)
    step = float(log_level[1] - log_level[0])
    top = int(np.argmax(share))
    middle = float(share @ log_level)
    spread = math.sqrt(float(share @ (log_level - middle) ** 2))
    if 0 < top < share.size - 1:
        # The grid is coarse; between its levels the log weight is nearly a parabola.
        below, here, above = np.log(share[top - 1 : top + 2] + 1e-300)
        bend = max(2.0 * here - below - above, 1e-6)
        peak = log_level[top] + step * 0.5 * (above - below) / bend
        narrow = step / math.sqrt(bend)
        if narrow < step:
            middle, spread = float(peak), narrow
    level = math.exp(middle)
    carried = _noises(lags)[:, 1].reshape(by_level.shape)
    square = float(np.sum(by_level * carried**2) / np.sum(by_level))
    mean = float(np.sum(by_level * carried) / np.sum(by_level))
    return level, level * spread, math.sqrt(square), math.sqrt(max(square - mean**2, 0.0))


def _grams(known: Array, bins: Bins, noise_cents: float, lags: int) -> tuple[Array, Array]:
    """Sums of products of all columns, whitened by each noise model, and its log likelihood.

    Shapes (noises, columns, columns) and (noises,).
    """
    flicker = flicker_covariance(bins.start_s, bins.end_s)
    slow = slow_covariance(bins.middle_s)
    reading = np.diag(noise_cents**2 / bins.count)
    grams, constants = [], []
    for level_cents, slow_cents in _noises(lags):
        covariance = reading + level_cents**2 * flicker + slow_cents**2 * slow
        factor, _ = cho_factor(covariance, lower=True, overwrite_a=True, check_finite=False)
        white = solve_triangular(factor, known, lower=True, check_finite=False)
        grams.append(white.T @ white)
        constants.append(-float(np.sum(np.log(np.diag(factor)))))
    return np.array(grams), np.array(constants)


def _log_weights(grams: Array, constant: Array, free: float, lags: int, warming: bool) -> Array:
    """How well each model explains the readings, shape (noises, lags or 1, models).

    What every model has, the rest and the temperature, is eliminated first; what is left of a
    model is one or two amplitudes, in closed form.
    """
    k = TIME_CONSTANTS_S.size
    decays = slice(1, 1 + k)
    (first, second), prior = _pairs()
    log_weight = np.empty((constant.size, max(lags, 1), prior.size))
    for lag in range(max(lags, 1)):
        common = [0, 1 + k + lag] if lags else [0]
        expected = np.diag([_BASE_CENTS**-2, _COEFFICIENT_CENTS_PER_K**-2][: len(common)])
        normal = grams[:, common][:, :, common] + expected
        others = np.concatenate([grams[:, common, decays], grams[:, common, -1:]], axis=2)
        removed = np.einsum("hpa,hpb->hab", others, np.linalg.solve(normal, others))
        matrix = grams[:, decays, decays] - removed[:, :k, :k]
        right = grams[:, decays, -1] - removed[:, :k, k]
        left_over = grams[:, -1, -1] - removed[:, k, k]
        a = matrix[:, first, first] + free
        b = np.where(first == second, 0.0, matrix[:, first, second])
        c = np.where(first == second, free, matrix[:, second, second] + free)
        r = right[:, first]
        s = np.where(first == second, 0.0, right[:, second])
        determinant = a * c - b * b
        explained = (c * r * r - 2.0 * b * r * s + a * s * s) / determinant
        amplitudes = 0.5 * (explained - np.log(determinant / free**2)) + prior
        if not warming:
            amplitudes = np.where(np.arange(prior.size) == 0, 0.0, -np.inf) + np.zeros_like(a)
        shared = constant - 0.5 * left_over - 0.5 * np.linalg.slogdet(normal)[1]
        log_weight[:, lag] = shared[:, None] + amplitudes
    return log_weight
