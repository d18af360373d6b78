"""One simulated warm-up, forecast again and again, and what came of it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from benchmarks.warmup.simulate import WarmUp
from numpy.typing import NDArray

from pitchwright.stability import Forecast, Readiness, forecast

Array = NDArray[np.float64]

CLOCK_MIN = (10.0, 20.0, 30.0, 45.0, 60.0, 90.0)
MINUTE_S = 60.0
FIRST_S = 4.0 * MINUTE_S
EVERY_S, SELDOM_S = MINUTE_S, 3.0 * MINUTE_S
UNLIKELY = 0.1
"""As long as it is less likely than this to be ready, it is asked seldom."""


@dataclass(frozen=True)
class Score:
    """What the forecasts of one warm-up came to.

    Attributes
    ----------
    ready_s
        The truth.
    third, half
        Forecast ready time from power-on when a third and a half of it has passed, in seconds.
    third_left, half_left
        Forecast over true time left at those moments.
    declared_s
        When it was first called ready or never to settle; infinite if not within the time given.
    never
        Whether that was "never settles".
    drift_cents
        True systematic drift within 30 minutes from then.
    covered
        Per clock time: whether the 90 % interval held the truth, and whether it still warmed up.
    wander_cents, true_wander_cents
        Stated and true half-width of the wander once declared.
    per_k_off
        Error of the temperature coefficient at an hour in its standard uncertainties, or NaN.
    """

    ready_s: float
    third: float
    half: float
    third_left: float
    half_left: float
    declared_s: float
    never: bool
    drift_cents: float
    covered: tuple[tuple[bool, bool], ...]
    wander_cents: float
    true_wander_cents: float
    per_k_off: float


def latest_s(ready_s: float) -> float:
    """By when it has to be declared: the later of 1.8 T and T + 35 min."""
    return max(1.8 * ready_s, ready_s + 35.0 * MINUTE_S)


def score(warm_up: WarmUp, *, thermometer: bool) -> Score:
    """Forecast one warm-up at all the moments that are scored."""

    def at(now_s: float) -> Forecast:
        seen = int(np.searchsorted(warm_up.t_s, now_s, side="right"))
        temperature_c = warm_up.temperature_c[:seen] if thermometer else None
        return forecast(warm_up.t_s[:seen], warm_up.cents[:seen], temperature_c)

    ready_s = warm_up.ready_s
    third, half = at(ready_s / 3.0), at(ready_s / 2.0)
    declared_s, now_s = math.inf, FIRST_S
    found = at(now_s)
    while now_s < latest_s(ready_s) + 3600.0:
        if found.readiness in (Readiness.READY, Readiness.NEVER_SETTLES):
            declared_s = now_s
            break
        now_s += SELDOM_S if found.sure < UNLIKELY else EVERY_S
        found = at(now_s)
    covered = []
    for clock_min in CLOCK_MIN:
        now_s = clock_min * MINUTE_S
        then = at(now_s)
        left_s = max(ready_s - now_s, 0.0)
        # The truth is known to the ten seconds of the simulation's own grid.
        inside = then.ready_in_low_s - 10.0 <= left_s <= then.ready_in_high_s + 10.0
        covered.append((inside, left_s > 0.0))
    hour = at(3600.0)
    return Score(
        ready_s,
        ready_s / 3.0 + third.ready_in_s,
        ready_s / 2.0 + half.ready_in_s,
        third.ready_in_s / (ready_s * 2.0 / 3.0),
        half.ready_in_s / (ready_s / 2.0),
        declared_s,
        found.readiness is Readiness.NEVER_SETTLES,
        warm_up.drift_cents(declared_s) if math.isfinite(declared_s) else math.nan,
        tuple(covered),
        found.wander_cents,
        true_wander_cents(warm_up, thermometer=thermometer),
        (hour.cents_per_k - warm_up.cents_per_k) / hour.u_cents_per_k,
    )


def true_wander_cents(warm_up: WarmUp, *, thermometer: bool) -> float:
    """Twice the deviation of minute means within half an hour, over the whole simulation.

    Without a thermometer what the room does is wander too.
    """
    wander = warm_up.wander_cents + (0.0 if thermometer else warm_up.room_cents)
    per_minute = round(MINUTE_S / float(warm_up.t_s[1] - warm_up.t_s[0]))
    minutes = wander[: wander.size // per_minute * per_minute].reshape(-1, per_minute).mean(axis=1)
    halves = minutes[: minutes.size // 30 * 30].reshape(-1, 30)
    return 2.0 * math.sqrt(float(np.mean(np.var(halves, axis=1))))
