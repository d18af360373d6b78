from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitchwright.stability.thermometer import follow_late, smooth_temperature

T_S = np.arange(0.0, 7200.0, 5.0)


@given(st.floats(-20.0, 40.0), st.floats(-1e-3, 1e-3), st.floats(-3e-7, 3e-7))
def test_a_steady_bend_passes_nearly_unchanged(level: float, slope: float, bend: float) -> None:
    temperature_c = level + slope * T_S + bend * T_S**2
    smooth_c = smooth_temperature(T_S, temperature_c)
    # The ridge costs a little at the very ends, where a slope counts most.
    assert smooth_c[60:-60] == pytest.approx(temperature_c[60:-60], abs=5e-3)
    assert smooth_c == pytest.approx(temperature_c, abs=0.08)


def test_noise_of_a_cheap_thermometer_is_smoothed(rng: np.random.Generator) -> None:
    truth_c = 21.0 + np.sin(2.0 * np.pi * T_S / 4000.0)
    smooth_c = smooth_temperature(T_S, truth_c + 0.03 * rng.standard_normal(T_S.size))
    assert np.std((smooth_c - truth_c)[60:-60]) < 0.008
    assert np.max(np.abs(smooth_c - truth_c)) < 0.06


def test_gaps_are_bridged_and_nothing_stays_nothing() -> None:
    temperature_c = 21.0 + T_S / 3600.0
    temperature_c[300:400] = np.nan
    smooth_c = smooth_temperature(T_S, temperature_c)
    assert np.all(np.isfinite(smooth_c))
    assert smooth_c[350] == pytest.approx(21.0 + T_S[350] / 3600.0, abs=0.05)
    assert np.all(np.isnan(smooth_temperature(T_S, np.full(T_S.size, np.nan))))


def test_following_late_is_first_order() -> None:
    step_c = np.where(T_S < 600.0, 20.0, 21.0)
    felt_c = follow_late(T_S, step_c, 300.0)
    at = np.searchsorted(T_S, 600.0 + 300.0)
    assert felt_c[at] == pytest.approx(20.0 + 1.0 - np.exp(-1.0), abs=0.05)
    assert felt_c[-1] == pytest.approx(21.0, abs=1e-3)
    assert follow_late(T_S, step_c, 0.0) is step_c
