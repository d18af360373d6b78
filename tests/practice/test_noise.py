"""Jitter, flicker and wander have the sizes they are asked for."""

from __future__ import annotations

import numpy as np
import pytest

from pitchwright.errors import InternalError
from pitchwright.practice import FrequencyNoise, Noise


def test_flicker_has_a_flat_allan_deviation() -> None:
    """1/f frequency noise: Allan deviation independent of the averaging time.

    Source: W. J. Riley, NIST SP 1065 (2008), flicker FM.
    """
    path = FrequencyNoise(Noise(flicker_floor_cents=0.05), np.random.default_rng(11))
    path.cents_at(20000.0)  # long past the start from zero
    cents = path.track(400_000, 0.05)
    for averaged in (10, 40, 160, 640):
        means = cents.reshape(-1, averaged).mean(axis=1)
        deviation = np.sqrt(0.5 * np.mean(np.diff(means) ** 2))
        assert deviation == pytest.approx(0.05, rel=0.1)


def test_wander_grows_with_the_root_of_time() -> None:
    noise = Noise(wander_cents_per_root_min=0.3)
    ends = [
        FrequencyNoise(noise, np.random.default_rng([5, run])).cents_at(240.0)
        for run in range(2000)
    ]
    assert np.std(ends) == pytest.approx(0.6, rel=0.06)
    assert np.mean(ends) == pytest.approx(0.0, abs=0.05)


def test_jumping_and_walking_have_the_same_spread() -> None:
    noise = Noise(flicker_floor_cents=0.1, wander_cents_per_root_min=0.2)
    walked, jumped = [], []
    for run in range(1500):
        walked.append(FrequencyNoise(noise, np.random.default_rng([1, run])).track(12, 5.0)[-1])
        jumped.append(FrequencyNoise(noise, np.random.default_rng([2, run])).cents_at(60.0))
    assert np.std(walked) == pytest.approx(float(np.std(jumped)), rel=0.08)


def test_track_goes_on_from_where_it_stood() -> None:
    noise = Noise(wander_cents_per_root_min=0.001)
    path = FrequencyNoise(noise, np.random.default_rng(3))
    stood = path.cents_at(1e7)
    assert abs(stood) > 0.01
    assert path.track(1, 1e-6)[0] == pytest.approx(stood, abs=1e-6)
    assert path.cents == path.track(1, 1e-6)[0] or path.cents == pytest.approx(stood, abs=1e-6)


def test_still_oscillators_stay_still() -> None:
    path = FrequencyNoise(Noise(), np.random.default_rng(3))
    assert path.cents_at(1000.0) == 0.0
    assert not path.track(100, 0.1).any()


def test_time_does_not_run_backwards() -> None:
    path = FrequencyNoise(Noise(), np.random.default_rng(3))
    path.cents_at(5.0)
    with pytest.raises(InternalError):
        path.cents_at(4.0)
