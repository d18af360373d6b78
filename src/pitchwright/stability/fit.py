"""One history explained by every warm-up and every kind of wander at once.

No single curve is picked. Every pair of time constants is fitted, under every noise
model (`noises`), and each counts by how well it explains the readings. What the readings cannot
tell apart stays in the answer's interval; a picked model would leave it out and be wrong most of
the time. The noise models know that wander holds together over time.

No warm-up is exactly one or two exponentials: the converter is not linear in temperature, and every
part warms up at its own pace. So each model has many small stages besides, known to be small.

Where the room's temperature is known, what it does is fitted with the rest, late or not. Beforehand
a kelvin may do a little (a compensated converter) or a lot (another one far from its reference).

All amplitudes enter linearly, so one factorisation of the covariance serves all pairs at once.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.stability.bins import gather
from pitchwright.stability.exponentials import averaged_decay
from pitchwright.stability.noises import Level, Noises
from pitchwright.stability.thermometer import room_of
from pitchwright.stability.time_constants import Cells, coarse_cells, split_cells
from pitchwright.stability.wander import reading_noise_cents

__all__ = ["DRAWN", "STAGES_S", "Posterior", "explain"]

Array = NDArray[np.float64]
Whole = NDArray[np.intp]

STAGES_S: Final = np.geomspace(120.0, 3600.0, 12)
"""Time constants of the many small stages that any warm-up may have besides its one or two."""
_STAGE_SHARE: Final = 0.02 * np.sqrt(STAGES_S[0] / STAGES_S)
"""How large each is, as a share of how far the pitch has moved (standard deviation)."""
LAGS_S: Final = (0.0, 150.0, 350.0, 700.0)
"""How late the oscillator may follow the thermometer."""

_AMPLITUDE_CENTS: Final = 30.0
_COEFFICIENTS_CENTS_PER_K: Final = (3.0, 15.0)
"""How much a kelvin may do (standard deviation): compensated, or not and far from its reference."""
_BASE_CENTS: Final = 1e4
_HELD: Final = 1e9
"""Precision of an amplitude that is held at zero."""
DRAWN: Final = 256
_FEW: Final = 32
_MOST_SPLITS: Final = 4
_FORGOTTEN: Final = 1e-5
"""A noise model that holds less of the weight on the coarse cells is left out after them."""


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
        Of rest, two amplitudes at the start, those of the small stages and, with a temperature,
        its coefficient: shapes (n, p) and (n, p, p).
    time_constants_s
        Of the two amplitudes, shape (n, 2); those of the stages are `STAGES_S`.
    flicker, slow, walk
        The wander: its Allan deviation at all times; what moves slowly, root mean square; the
        deviation of a random walk after a minute.
    lag_s
        How late each fit follows the thermometer, shape (n,); empty without one.
    """

    times_drawn: Whole
    mean: Array
    covariance: Array
    time_constants_s: Array
    flicker: Level
    slow: Level
    walk: Level
    lag_s: Array

    def average(self, each: Array) -> tuple[float, float]:
        """Weighted mean and standard deviation of one figure per fit."""
        share = self.times_drawn / np.sum(self.times_drawn)
        mean = float(share @ each)
        return mean, math.sqrt(float(share @ (each - mean) ** 2))

    def coefficient(self) -> tuple[float, float]:
        """Temperature coefficient per kelvin and its standard uncertainty; NaN without one."""
        if not self.lag_s.size:
            return math.nan, math.nan
        mean, between = self.average(self.mean[:, -1])
        within, _ = self.average(self.covariance[:, -1, -1])
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

    def decays(time_constants_s: Array) -> Array:
        return averaged_decay(since_s, bins.first, bins.count, time_constants_s)

    common = [np.ones((bins.first.size, 1))]
    if warming:
        common.append(decays(STAGES_S))
    lags, room = 0, None
    if temperature_c is not None and np.isfinite(temperature_c).sum() > 1:
        lags = len(LAGS_S)
        room = room_of(t_s, temperature_c)
        for lag_s in LAGS_S:
            felt_c = room.felt_c(bins.middle_s, lag_s)
            # From the first value: what was felt before the start is no longer to be felt.
            common.append((felt_c - felt_c[0])[:, None])
    seen = bins.mean(cents - offset_cents)
    moved_cents = float(np.ptp(seen))
    heard = _Heard(
        common=np.column_stack([*common, seen]),
        noises=Noises(bins, max(reading_noise_cents(cents), 1e-3), room),
        lags=lags,
        free=max(_AMPLITUDE_CENTS, moved_cents) ** -2,
        small=np.maximum(_STAGE_SHARE * moved_cents, 1e-6) ** -2 if warming else np.empty(0),
    )
    return _explained(heard, decays, warming=warming), offset_cents


@dataclass(frozen=True, slots=True, eq=False)
class _Heard:
    """What is to be explained, by what every model has, and how sure each part is beforehand.

    Attributes
    ----------
    common
        The rest, the stages, the temperature once for each lag, and last what was heard; shape
        (bins, columns).
    noises
        The noise models.
    lags
        How many there are; 0 without a temperature.
    free, small
        Precision of an amplitude, and of that of each stage, before anything is heard.
    """

    common: Array
    noises: Noises
    lags: int
    free: float
    small: Array

    @property
    def ways(self) -> int:
        """In how many ways temperature may act: so late, so much."""
        return max(self.lags * len(_COEFFICIENTS_CENTS_PER_K), 1)

    def columns(self, way: Whole) -> Whole:
        """Which columns of `common` models of these ways explain by, shape (..., columns)."""
        always = np.arange(1 + self.small.size)
        always = np.broadcast_to(always, (*way.shape, always.size))
        temperature = always.shape[-1] + way[..., None] % max(self.lags, 1)
        return np.concatenate([always, temperature][: 1 + (self.lags > 0)], axis=-1)

    def precision(self, way: Whole) -> Array:
        """Of what `columns` explain, before anything is heard."""
        always = np.array([_BASE_CENTS**-2, *self.small])
        always = np.broadcast_to(always, (*way.shape, always.size))
        spread = np.array(_COEFFICIENTS_CENTS_PER_K)[way // max(self.lags, 1)]
        return np.concatenate([always, spread[..., None] ** -2.0][: 1 + (self.lags > 0)], axis=-1)


def _explained(heard: _Heard, decays: Callable[[Array], Array], *, warming: bool) -> Posterior:
    """Weigh all models, on smaller cells as long as the weight gathers in a few; draw of them."""
    cells = coarse_cells()
    for attempt in range(_MOST_SPLITS):
        columns = np.hstack([heard.common, decays(cells.time_constants_s)])
        white = heard.noises.whitened(columns)
        grams = np.swapaxes(white, 1, 2) @ white
        log_weight = _log_weights(grams, heard, cells, warming=warming)
        weight = np.exp(log_weight - np.max(log_weight))
        smaller = split_cells(cells, np.sum(weight, axis=(0, 1))) if warming else None
        first = attempt == 0
        if (smaller is None and not (first and heard.lags)) or attempt == _MOST_SPLITS - 1:
            break
        if first:
            few = _drawn(grams, weight, heard, cells, warming=warming, count=_FEW)
            mean, u = few.coefficient()
            held = np.sum(weight, axis=(1, 2)) / np.sum(weight)
            heard.noises.narrow(held > _FORGOTTEN, mean**2 + u**2)
        cells = smaller or cells
    return _drawn(grams, weight, heard, cells, warming=warming)


def _log_weights(grams: Array, heard: _Heard, cells: Cells, *, warming: bool) -> Array:
    """How well each model explains what was heard, shape (noises, ways, models).

    What every model has, the rest, the stages and the temperature, is eliminated first; what is
    left of a model is one or two amplitudes, in closed form.
    """
    constant = heard.noises.constant
    first, second = cells.models
    alone = first == second
    last, free = heard.common.shape[1] - 1, heard.free
    k = cells.time_constants_s.size
    log_weight = np.empty((constant.size, heard.ways, first.size))
    for way in range(heard.ways):
        common, beforehand = heard.columns(np.array(way)), heard.precision(np.array(way))
        normal = grams[:, common][:, :, common] + np.diag(beforehand)
        # The decays and, in the last row, what was heard.
        others = np.roll(grams[:, common, last:], -1, axis=2)
        removed = np.swapaxes(others, 1, 2) @ np.linalg.solve(normal, others)
        matrix = grams[:, last + 1 :, last + 1 :] - removed[:, :k, :k]
        right = grams[:, last + 1 :, last] - removed[:, :k, k]
        left_over = grams[:, last, last] - removed[:, k, k]
        if warming:
            a = matrix[:, first, first] + free
            b = np.where(alone, 0.0, matrix[:, first, second])
            c = np.where(alone, free, matrix[:, second, second] + free)
            r = right[:, first]
            s = np.where(alone, 0.0, right[:, second])
            determinant = a * c - b * b
            explained = (c * r * r - 2.0 * b * r * s + a * s * s) / determinant
            amplitudes = 0.5 * (explained - np.log(determinant / free**2)) + cells.log_prior
        else:
            amplitudes = np.where(np.arange(first.size) == 0, 0.0, -np.inf)
        narrowed = np.linalg.slogdet(normal)[1] - np.sum(np.log(beforehand))
        shared = constant - 0.5 * (left_over + narrowed)
        log_weight[:, way] = shared[:, None] + amplitudes
    return log_weight


def _drawn(
    grams: Array,
    weight: Array,
    heard: _Heard,
    cells: Cells,
    *,
    warming: bool,
    count: int = DRAWN,
) -> Posterior:
    """Fit those models that are drawn in even steps of their cumulated weight."""
    steps = (np.arange(count) + 0.5) / count * np.sum(weight)
    chosen = np.minimum(np.searchsorted(np.cumsum(weight), steps), weight.size - 1)
    chosen, times = np.unique(chosen, return_counts=True)
    noise, way, model = np.unravel_index(chosen, weight.shape)
    first, second = (one[model] for one in cells.models)
    alone = first == second
    # A model without a second time constant still needs one that differs, for its zero amplitude.
    second = np.where(alone, (first + 1) % cells.time_constants_s.size, second)
    common = heard.columns(way)
    after = heard.common.shape[1]
    index = np.concatenate(
        [common[:, :1], after + np.stack([first, second], axis=1), common[:, 1:]], axis=1
    )
    amplitudes = np.where(
        np.stack([np.zeros_like(alone), alone], axis=1) | (not warming), _HELD, heard.free
    )
    beforehand = heard.precision(way)
    precision = np.concatenate([beforehand[:, :1], amplitudes, beforehand[:, 1:]], axis=1)
    normal = grams[noise[:, None, None], index[:, :, None], index[:, None, :]]
    normal = normal + precision[:, :, None] * np.eye(index.shape[1])
    covariance = np.linalg.inv(normal)
    mean = np.einsum("npq,nq->np", covariance, grams[noise[:, None], index, after - 1])
    return Posterior(
        times,
        mean,
        covariance,
        cells.time_constants_s[np.stack([first, second], axis=1)],
        *heard.noises.levels(np.sum(weight, axis=(1, 2))),
        np.array(LAGS_S)[way % heard.lags] if heard.lags else np.empty(0),
    )
