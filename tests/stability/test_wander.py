from __future__ import annotations

import allantools
import numpy as np
import pytest

from pitchwright.stability.wander import (
    flicker_covariance,
    reading_noise_cents,
    slow_covariance,
    spread_within_flicker,
    spread_within_slow,
    spread_within_walk,
    walk_covariance,
)


def test_flicker_of_unit_level_has_an_allan_deviation_of_one_at_all_times() -> None:
    """Half the mean square of the difference of neighbouring averages: from its meaning."""
    for tau_s in (20.0, 60.0, 600.0, 3600.0):
        covariance = flicker_covariance(np.array([0.0, tau_s]), np.array([tau_s, 2.0 * tau_s]))
        variance = 0.5 * (covariance[0, 0] + covariance[1, 1] - 2.0 * covariance[0, 1])
        assert variance == pytest.approx(1.0, rel=0.04)


def test_drawn_flicker_is_what_allantools_calls_flicker(rng: np.random.Generator) -> None:
    edges_s = np.arange(0.0, 513.0) * 10.0
    factor = np.linalg.cholesky(flicker_covariance(edges_s[:-1], edges_s[1:]))
    variances = [
        allantools.oadev(factor @ rng.standard_normal(512), 0.1, "freq", [20, 80, 640])[1] ** 2
        for _ in range(100)
    ]
    assert np.sqrt(np.mean(variances, axis=0)) == pytest.approx([1.0, 1.0, 1.0], rel=0.06)


def test_averaging_a_bin_is_averaging_its_parts() -> None:
    fine_s = np.arange(0.0, 121.0, 10.0)
    fine = flicker_covariance(fine_s[:-1], fine_s[1:])
    coarse = flicker_covariance(np.array([0.0, 60.0]), np.array([60.0, 120.0]))
    assert coarse[0, 0] == pytest.approx(np.mean(fine[:6, :6]))
    assert coarse[0, 1] == pytest.approx(np.mean(fine[:6, 6:]))


def test_covariances_are_positive(rng: np.random.Generator) -> None:
    start_s = np.sort(rng.uniform(0.0, 20_000.0, 80))
    end_s = np.append(start_s[1:], start_s[-1] + 30.0)
    assert np.linalg.eigvalsh(flicker_covariance(start_s, end_s)).min() > 0.0
    assert np.linalg.eigvalsh(slow_covariance(0.5 * (start_s + end_s))).min() > -1e-9


def test_spread_within_a_span_grows_with_it() -> None:
    assert spread_within_slow(60.0) < 0.01 < spread_within_slow(1800.0) < 1.0
    assert spread_within_slow(1e7) == pytest.approx(1.0, abs=0.05)
    # Flicker looks the same at all scales: the spread about the mean does not depend on the span.
    assert spread_within_flicker(600.0) == pytest.approx(spread_within_flicker(6000.0), rel=0.05)


def test_a_random_walk_spreads_with_the_root_of_time(rng: np.random.Generator) -> None:
    at_s = np.arange(0.0, 1830.0, 60.0)
    walk = np.cumsum(rng.standard_normal((2000, at_s.size)), axis=1)
    walk -= walk[:, :1]
    assert np.cov(walk.T)[10, 20] == pytest.approx(walk_covariance(at_s)[10, 20], rel=0.1)
    # About its own mean a walk of unit deviation a minute has a sixth of the span, in minutes.
    assert spread_within_walk(1800.0) == pytest.approx(30.0 / 6.0, rel=0.05)
    assert np.mean(np.var(walk, axis=1)) == pytest.approx(spread_within_walk(1800.0), rel=0.1)


def test_reading_noise_ignores_the_warm_up_and_strays(rng: np.random.Generator) -> None:
    t_s = np.arange(0.0, 3000.0, 5.0)
    cents = 40.0 * np.exp(-t_s / 300.0) + 0.05 * rng.standard_normal(t_s.size)
    cents[100] += 30.0
    assert reading_noise_cents(cents) == pytest.approx(0.05, rel=0.1)
    assert reading_noise_cents(cents[:2]) == 0.0
    assert reading_noise_cents(0.05 * rng.standard_normal(9)) < 0.2
