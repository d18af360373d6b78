"""The practice rig watched from power-on: what a history of it would hold."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.practice.noise import FrequencyNoise
from pitchwright.practice.rig import Rig
from pitchwright.stability.history import History, Trace
from pitchwright.units import cents_between, cv_of_note

__all__ = ["watched"]

Array = NDArray[np.float64]

_READING_CENTS: Final = 0.03
_THERMOMETER_K: Final = 0.03
_ROOM_SWING_K: Final = 0.4
_ROOM_PERIOD_S: Final = 4200.0


def watched(rig: Rig, note: float, minutes: float, every_s: float, seed: int = 1) -> History:
    """Watch every oscillator of a rig at one note, with a thermometer beside it. All invented.

    Parameters
    ----------
    rig
        Its oscillators' power comes on as their warm-ups say.
    note
        MIDI note number played throughout.
    minutes, every_s
        For how long, and seconds from one reading to the next.
    seed
        Another number, another evening.

    Raises
    ------
    InputError
        Where the time asked for is not between two readings and a week.
    """
    if not every_s > 0.0 or not 2.0 * every_s <= 60.0 * minutes <= 7.0 * 86400.0:
        raise InputError(
            f"Watching for {minutes:g} minutes every {every_s:g} s cannot be",
            do="Give at least two readings and at most a week",
        )
    rng = np.random.default_rng(seed)
    t_s = np.arange(0.0, 60.0 * minutes, every_s)
    room_k = _ROOM_SWING_K * np.sin(2.0 * math.pi * t_s / _ROOM_PERIOD_S)
    cv_v = np.full(1, cv_of_note(note))
    traces = []
    for voice in rig.voices:
        oscillator = voice.oscillator
        restless = FrequencyNoise(oscillator.noise, rng)
        f_hz = np.array(
            [
                float(oscillator.f_hz(cv_v, now_s, rig.temperature_c + warmer_k)[0])
                for now_s, warmer_k in zip(t_s, room_k, strict=True)
            ]
        )
        noise_cents = np.array([restless.cents_at(float(now_s)) for now_s in t_s])
        noise_cents += _READING_CENTS * rng.standard_normal(t_s.size)
        f_hz = f_hz * np.exp2(noise_cents / 1200.0)
        traces.append(Trace(oscillator.name, cents_between(f_hz, float(f_hz[0])), f_hz))
    seen_c = rig.temperature_c + room_k + _THERMOMETER_K * rng.standard_normal(t_s.size)
    return History(t_s, tuple(traces), seen_c, remarks=("All of it is invented.",))
