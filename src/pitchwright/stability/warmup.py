"""When will it be ready: the warm-up still to come, forecast from what has been heard so far.

`fit` weighs every pair of time constants under every kind of wander; here warm-ups are drawn in
proportion to those weights, each is followed into the future, and the forecast is what they have
in common: the median, the interval that holds nine in ten, the share that is ready already.

Ready is about the systematic part: it stays under the tolerance over the coming half hour, from
now on. What the oscillator wanders besides is told apart, because waiting does not cure it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.stability.bins import thinned
from pitchwright.stability.exponentials import moves_ahead_cents, time_to_settle_s
from pitchwright.stability.fit import DRAWN, STAGES_S, Posterior, explain
from pitchwright.stability.wander import (
    spread_within_flicker,
    spread_within_slow,
    spread_within_walk,
)
from pitchwright.stability.wording import IN_HOURS_S, in_words, signed
from pitchwright.tracking.conformity import Conformity, stands
from pitchwright.tracking.coverage import expanded_u

__all__ = ["HORIZON_S", "TOLERANCE_CENTS", "Forecast", "Readiness", "forecast"]

Array = NDArray[np.float64]

HORIZON_S: Final = 1800.0
TOLERANCE_CENTS: Final = 1.0
USUAL_S: Final = 1800.0
"""Half an hour: common practice, no source. Only said while there is nothing better."""

_LEAST_S: Final = 180.0
_LEAST_READINGS: Final = 8
_SURE: Final = 0.9
"""The chance at which it is called ready: the benchmark's bars on early and late balance here."""
_SOON_S: Final = 30.0
_LIMIT_S: Final = 12.0 * 3600.0
_AHEAD_S: Final = np.concatenate([[0.0], np.geomspace(30.0, _LIMIT_S, 60)])


class Readiness(StrEnum):
    """Where a warm-up stands."""

    TOO_EARLY = "too early to say"
    WARMING = "warming up"
    READY = "ready"
    NEVER_SETTLES = "never settles"


@dataclass(frozen=True, slots=True, eq=False)
class Forecast:
    """What is known of one oscillator's warm-up, now.

    Attributes
    ----------
    readiness
        Where it stands.
    ready_in_s
        Median forecast of the time until the systematic drift over the horizon stays under the
        tolerance; 0 where it does, infinite beyond twelve hours.
    ready_in_low_s, ready_in_high_s
        Ends of the interval that holds it with a chance of 90 %.
    sure
        Chance that it is ready now.
    drift_cents
        How far the systematic part still moves within the horizon, median.
    wander_cents
        Half-width of what it wanders about its own mean within a horizon, k = 2, the systematic
        part taken away.
    u_wander_cents
        Standard uncertainty of that.
    rest_cents, u_rest_cents
        Where the pitch will come to rest, in the cents that were given, and how well that is known.
    cents_per_k, u_cents_per_k
        Temperature coefficient; NaN where no temperature was given.
    lag_s
        How late it follows the thermometer; NaN where there is none.
    tolerance_cents, horizon_s
        What was asked.
    watched_s
        How long it has been watched.
    """

    readiness: Readiness
    ready_in_s: float
    ready_in_low_s: float
    ready_in_high_s: float
    sure: float
    drift_cents: float
    wander_cents: float
    u_wander_cents: float
    rest_cents: float
    u_rest_cents: float
    cents_per_k: float
    u_cents_per_k: float
    lag_s: float
    tolerance_cents: float
    horizon_s: float
    watched_s: float
    _draws: _Draws | None = field(default=None, repr=False)

    @property
    def sentence(self) -> str:
        """The answer for a person."""
        if self.readiness is Readiness.READY:
            return "Ready."
        if self.readiness is Readiness.NEVER_SETTLES:
            return (
                f"This one never settles: it wanders by ±{self.wander_cents:.1f} cents, "
                "so no trimming can be better than that."
            )
        if self.readiness is Readiness.TOO_EARLY:
            return (
                "Too early to say: keep listening. Half an hour is usual (common practice), "
                "and the first forecast needs a few minutes of readings."
            )
        text = _when(self.ready_in_s, self.ready_in_low_s, self.ready_in_high_s)
        if self.restless:
            text += (
                f" Even then it wanders by ±{self.wander_cents:.1f} cents, "
                "so no trimming can be better than that."
            )
        return text

    @property
    def why(self) -> str:
        """What the answer rests on, for a person."""
        if self.readiness is Readiness.TOO_EARLY:
            return f"Watched for {in_words(self.watched_s)} so far."
        if self.readiness is Readiness.NEVER_SETTLES:
            text = "The warm-up is over, but the wander alone is more than the tolerance."
        else:
            text = (
                f"The coming {self.horizon_s / 60.0:.0f} minutes of warm-up move it by about "
                f"{self.drift_cents:.2f} cents; {self.tolerance_cents:g} is allowed."
            )
            if not self.restless and _surely_more(self.wander_cents, 0.0, self.tolerance_cents):
                text += (
                    f" It may wander by more than that: ±{self.wander_cents:.1f} cents, "
                    f"known to ±{expanded_u(self.u_wander_cents):.1f} so far (k = 2)."
                )
        if self.knows_temperature:
            moved = f"{signed(self.cents_per_k)} ± {expanded_u(self.u_cents_per_k):.2f} cents"
            text += f" A kelvin moves it by {moved} (k = 2)."
        return text

    @property
    def restless(self) -> bool:
        """Whether it surely wanders more than the tolerance, warm or not."""
        return _surely_more(self.wander_cents, self.u_wander_cents, self.tolerance_cents)

    @property
    def knows_temperature(self) -> bool:
        """Whether the temperature coefficient differs from zero by more than k = 2."""
        return abs(self.cents_per_k) > expanded_u(self.u_cents_per_k)

    def curve(self, t_s: Array) -> tuple[Array, Array, Array]:
        """Fitted and forecast systematic part at times of the history's clock.

        Returns
        -------
        tuple of Array
            Median and the two ends of the 90 % band, in cents, shape of ``t_s``; all NaN while it
            is too early to say.
        """
        if self._draws is None:
            unknown = np.full(np.shape(t_s), np.nan)
            return unknown, unknown, unknown
        low, middle, high = np.quantile(self._draws.at(t_s), [0.05, 0.5, 0.95], axis=0)
        return middle, low, high


def _when(middle_s: float, low_s: float, high_s: float) -> str:
    start = "now" if low_s < _SOON_S else in_words(low_s)
    end = f"more than {in_words(_LIMIT_S)}" if math.isinf(high_s) else in_words(high_s)
    if math.isinf(middle_s):
        return f"Not ready within the next {in_words(_LIMIT_S)}; at the earliest in {start}."
    if middle_s < _SOON_S:
        return f"Perhaps ready already; at the latest in {end}."
    if start.endswith("minutes") and end.endswith("minutes") and high_s < IN_HOURS_S:
        start, end = start.split()[0], end.split()[0]
    return f"Ready in about {in_words(middle_s)}, between {start} and {end}."


@dataclass(frozen=True, slots=True, eq=False)
class _Draws:
    """Warm-ups drawn in proportion to how well they explain what was heard."""

    start_s: float
    rest_cents: Array
    amplitudes_cents: Array
    time_constants_s: Array
    stages_cents: Array

    def at(self, t_s: Array) -> Array:
        """Pitch of each at times of the history's clock, shape (draws, times)."""
        since_s = np.asarray(t_s, dtype=np.float64) - self.start_s
        cents = self.rest_cents[:, None] + self.stages_cents @ np.exp(-since_s / STAGES_S[:, None])
        for k in range(2):
            cents += self.amplitudes_cents[:, k : k + 1] * np.exp(
                -since_s / self.time_constants_s[:, k : k + 1]
            )
        return cents

    def departure_cents(self, since_s: Array, horizon_s: float) -> Array:
        """How far each goes within the horizon from times since the start, (draws, times)."""
        moves = moves_ahead_cents(self.amplitudes_cents, self.time_constants_s, since_s, horizon_s)
        moves += moves_ahead_cents(self.stages_cents, STAGES_S, since_s, horizon_s)
        return np.asarray(np.max(np.abs(moves), axis=1))


@cache
def _normals() -> Array:
    """Evenly spread standard normal vectors, shape (DRAWN, 15): the same for every forecast."""
    from scipy.special import ndtri
    from scipy.stats import qmc

    engine = qmc.Sobol(3 + STAGES_S.size, scramble=True, rng=np.random.default_rng(20))
    return np.asarray(ndtri(engine.random(DRAWN)))


def _draw(posterior: Posterior, start_s: float, offset_cents: float) -> _Draws:
    normals = _normals()
    size = normals.shape[1]  # the temperature's coefficient, where there is one, comes after
    factor = np.linalg.cholesky(posterior.covariance[:, :size, :size])
    fit = np.repeat(np.arange(posterior.times_drawn.size), posterior.times_drawn)
    drawn = posterior.mean[fit, :size] + np.einsum("npq,nq->np", factor[fit], normals)
    return _Draws(
        start_s,
        drawn[:, 0] + offset_cents,
        drawn[:, 1:3],
        posterior.time_constants_s[fit],
        drawn[:, 3:],
    )


def forecast(
    t_s: Array,
    cents: Array,
    temperature_c: Array | None = None,
    *,
    tolerance_cents: float = TOLERANCE_CENTS,
    horizon_s: float = HORIZON_S,
) -> Forecast:
    """Say when the remaining systematic drift will stay under the tolerance.

    Parameters
    ----------
    t_s
        Times of the readings, rising, shape (n,); the warm-up is taken to begin at or before the
        first, and the last is now. Gaps do no harm.
    cents
        Pitch away from any fixed reference, shape (n,); NaN where there was no reading.
    temperature_c
        Degrees Celsius at the same times, shape (n,), NaN where there was none.
    tolerance_cents
        How far the pitch may still go within the horizon.
    horizon_s
        How far ahead it has to hold: half an hour unless said otherwise.

    Raises
    ------
    InputError
        Where a tolerance or a horizon is not positive, or the times run backwards.
    """
    if not tolerance_cents > 0.0 or not horizon_s > 0.0:
        raise InputError(
            "The tolerance and the time it has to hold must be more than zero",
            do="Give for example 1 cent and 30 minutes",
        )
    seen = np.isfinite(cents)
    t_s, cents = t_s[seen], cents[seen]
    temperature_c = None if temperature_c is None else temperature_c[seen]
    if np.any(np.diff(t_s) < 0.0):
        raise InputError("The clock jumps back", do="Give the readings in the order of time")
    watched_s = float(t_s[-1] - t_s[0]) if t_s.size else 0.0
    if watched_s < _LEAST_S or t_s.size < _LEAST_READINGS:
        return _too_early(tolerance_cents, horizon_s, watched_s)
    t_s, cents, temperature_c = thinned(t_s, cents, temperature_c)
    posterior, offset_cents = explain(t_s, cents, temperature_c)
    draws = _draw(posterior, float(t_s[0]), offset_cents)
    return _judge(posterior, draws, watched_s, tolerance_cents, horizon_s)


def _judge(
    posterior: Posterior,
    draws: _Draws,
    watched_s: float,
    tolerance_cents: float,
    horizon_s: float,
) -> Forecast:
    departure = draws.departure_cents(watched_s + _AHEAD_S, horizon_s)
    ready_in_s = time_to_settle_s(departure, _AHEAD_S, tolerance_cents)
    low_s, middle_s, high_s = np.quantile(ready_in_s, [0.05, 0.5, 0.95], method="nearest")
    sure = float(np.mean(ready_in_s == 0.0))
    wander_cents, u_wander_cents = _wander(posterior, horizon_s)
    if sure < _SURE:
        readiness = Readiness.WARMING
    elif _surely_more(wander_cents, u_wander_cents, tolerance_cents):
        readiness = Readiness.NEVER_SETTLES
    else:
        readiness = Readiness.READY
    coefficient, u_coefficient = posterior.coefficient()
    return Forecast(
        readiness,
        float(middle_s),
        float(low_s),
        float(high_s),
        sure,
        float(np.median(departure[:, 0])),
        wander_cents,
        u_wander_cents,
        float(np.mean(draws.rest_cents)),
        float(np.std(draws.rest_cents)),
        coefficient,
        u_coefficient,
        posterior.average(posterior.lag_s)[0] if posterior.lag_s.size else math.nan,
        tolerance_cents,
        horizon_s,
        watched_s,
        draws,
    )


def _surely_more(wander_cents: float, u_cents: float, tolerance_cents: float) -> bool:
    judged = stands(wander_cents, expanded_u(u_cents), tolerance_cents)
    return judged is Conformity.OUTSIDE


def _wander(posterior: Posterior, horizon_s: float) -> tuple[float, float]:
    """Half-width (k = 2) of the wander within a horizon and its standard uncertainty."""
    parts = (
        (posterior.flicker, spread_within_flicker(horizon_s)),
        (posterior.slow, spread_within_slow(horizon_s)),
        (posterior.walk, spread_within_walk(horizon_s)),
    )
    half = expanded_u(math.sqrt(sum(level.cents**2 * spread for level, spread in parts)))
    u_half = 4.0 * math.hypot(*(one.cents * one.u_cents * spread for one, spread in parts)) / half
    return half, u_half


def _too_early(tolerance_cents: float, horizon_s: float, watched_s: float) -> Forecast:
    return Forecast(
        readiness=Readiness.TOO_EARLY,
        ready_in_s=max(USUAL_S - watched_s, 0.0),
        ready_in_low_s=0.0,
        ready_in_high_s=math.inf,
        sure=0.0,
        drift_cents=math.nan,
        wander_cents=math.nan,
        u_wander_cents=math.nan,
        rest_cents=math.nan,
        u_rest_cents=math.nan,
        cents_per_k=math.nan,
        u_cents_per_k=math.nan,
        lag_s=math.nan,
        tolerance_cents=tolerance_cents,
        horizon_s=horizon_s,
        watched_s=watched_s,
    )
