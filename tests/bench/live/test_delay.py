"""The moment at which one tone gives way to another."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from pitchwright.bench.live.delay import change_of_level, change_of_pitch

RATE_HZ = 48_000
Array = NDArray[np.float64]


def tones(before_hz: float, after_hz: float, at: int, count: int, shape: str = "saw") -> Array:
    f_hz = np.where(np.arange(count) < at, before_hz, after_hz)
    phase = np.cumsum(f_hz) / RATE_HZ
    wave = 2.0 * (phase % 1.0) - 1.0 if shape == "saw" else np.sin(2.0 * np.pi * phase)
    noise = np.random.default_rng(3).standard_normal(count)
    return np.asarray(0.4 * wave + 1e-3 * noise)


@settings(max_examples=40, derandomize=True)
@given(
    low=st.floats(30.0, 400.0),
    semitones=st.integers(7, 48),
    up=st.booleans(),
    at_s=st.floats(0.5, 1.0),
    shape=st.sampled_from(["saw", "sine"]),
)
def test_it_is_found_within_two_periods_of_the_lower_tone(
    low: float, semitones: int, up: bool, at_s: float, shape: str
) -> None:
    high = low * 2.0 ** (semitones / 12.0)
    before, after = (low, high) if up else (high, low)
    at = int(at_s * RATE_HZ)
    found = change_of_pitch(
        tones(before, after, at, int(1.5 * RATE_HZ), shape), RATE_HZ, before, after
    )
    assert found is not None
    # Nor can two tones be told apart faster than they come out of step.
    assert abs(found - at) / RATE_HZ < max(2.1 / low, 2.1 / (high - low), 0.02)


def test_no_change_is_no_moment() -> None:
    steady = tones(200.0, 200.0, 24_000, 72_000)
    assert change_of_pitch(steady, RATE_HZ, 200.0, 300.0) is None
    assert change_of_pitch(np.zeros(100), RATE_HZ, 200.0, 300.0) is None
    assert change_of_pitch(np.zeros(72_000), RATE_HZ, 200.0, 300.0) is None


@pytest.mark.parametrize("step", [0.3, -0.05])
def test_a_step_of_voltage_is_found_to_the_sample(step: float) -> None:
    level = np.full(10_000, 0.1)
    level[4_321:] += step
    assert change_of_level(level) == 4_321
    assert change_of_level(np.full(10_000, 0.1)) is None
    assert change_of_level(np.zeros(8)) is None
