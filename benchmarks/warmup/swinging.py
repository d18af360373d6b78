"""The hardest case: an uncompensated converter, far below its reference pitch, in a swinging room.

The practice rig's Dunlin at middle C moves by 13 cents per kelvin. Room and warm-up move it alike
for the first hour, its converter bends the warm-up, and it walks off by itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from benchmarks.warmup.simulate import HORIZON_S, THERMOMETER_NOISE_K, TOLERANCE_CENTS
from numpy.typing import NDArray

from pitchwright.practice import theatre_rig
from pitchwright.practice.noise import FrequencyNoise
from pitchwright.stability import Readiness, forecast
from pitchwright.units import MIDDLE_C, cents_between

Array = NDArray[np.float64]

EVERY_S, STEP_S, HOURS = 10.0, 600.0, 2.0
_SWING_K, _MEAN_C = 0.4, 25.0


@dataclass(frozen=True)
class Swinging:
    """What came of forecasts every ten minutes for two hours, over many rooms.

    Attributes
    ----------
    asked, covered
        How many forecasts while it warmed up, and how many of their 90 % intervals held the truth.
    rooms, early
        How many rooms, and in how many it was first called ready with more than twice the
        tolerance to go.
    """

    asked: int
    covered: int
    rooms: int
    early: int


def swinging(rooms: int, seed: int) -> Swinging:
    """Watch Dunlin warm up, with a thermometer, in rooms whose swing begins anywhere."""
    (voice,) = theatre_rig(on_for_s=0.0).only("Dunlin").voices
    dunlin = voice.oscillator
    cv_v = np.array([(MIDDLE_C - 24.0) / 12.0])

    def path_cents(t_s: Array, room_c: Array) -> Array:
        f_hz = np.array([dunlin.f_hz(cv_v, t, c)[0] for t, c in zip(t_s, room_c, strict=True)])
        return np.asarray(cents_between(f_hz, f_hz[-1]))

    grid_s = np.arange(0.0, (HOURS + 2.0) * 3600.0, EVERY_S)
    still = path_cents(grid_s, np.full(grid_s.size, _MEAN_C))
    ahead = np.lib.stride_tricks.sliding_window_view(still, round(HORIZON_S / EVERY_S) + 1)
    drift_cents = np.max(np.abs(ahead - ahead[:, :1]), axis=1)
    ready_s = grid_s[np.flatnonzero(drift_cents > TOLERANCE_CENTS)[-1] + 1]
    t_s = np.arange(2.0, HOURS * 3600.0, EVERY_S)
    asked = covered = early = 0
    for chance in np.random.default_rng(seed).spawn(rooms):
        period_s, phase = chance.uniform(2400.0, 9000.0), chance.uniform(0.0, 2.0 * np.pi)
        room_c = _MEAN_C + _SWING_K * np.sin(2.0 * np.pi * t_s / period_s + phase)
        restless = FrequencyNoise(dunlin.noise, chance)
        cents = path_cents(t_s, room_c) + np.array([restless.cents_at(t) for t in t_s.tolist()])
        cents += 0.03 * chance.standard_normal(t_s.size)
        seen_c = room_c + THERMOMETER_NOISE_K * chance.standard_normal(t_s.size)
        waiting = True
        for now_s in np.arange(STEP_S, HOURS * 3600.0, STEP_S):
            n = int(np.searchsorted(t_s, now_s))
            found = forecast(t_s[:n], cents[:n], seen_c[:n])
            if waiting and found.readiness in (Readiness.READY, Readiness.NEVER_SETTLES):
                waiting = False
                early += bool(drift_cents[round(now_s / EVERY_S)] > 2.0 * TOLERANCE_CENTS)
            if now_s < ready_s:
                asked += 1
                left_s = ready_s - now_s
                covered += bool(
                    found.ready_in_low_s - EVERY_S <= left_s <= found.ready_in_high_s + EVERY_S
                )
    return Swinging(asked, covered, rooms, early)
