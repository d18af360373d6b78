"""Drift from year to year, against numbers worked out elsewhere."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import curve_fit

from pitchwright.stability.years import (
    DriftRate,
    Interval,
    control_limits,
    drift_rate,
    months_until,
    normalised_error,
)


def test_normalised_error_by_hand() -> None:
    # |10 - 13| / root(3² + 4²) = 0.6, worked by hand.
    assert normalised_error(10.0, 3.0, 13.0, 4.0) == pytest.approx(0.6)


def test_rate_against_an_independent_fit() -> None:
    rng = np.random.default_rng(5)
    months = rng.uniform(3.0, 20.0, 9)
    u = rng.uniform(0.05, 0.3, 9)
    change = 0.11 * months + u * rng.standard_normal(9) * 3.0
    ours = drift_rate([Interval(*row) for row in zip(months, change, u, strict=True)])
    # scipy's curve_fit without absolute_sigma scales the covariance by the residuals, as ours.
    (rate,), ((variance,),) = curve_fit(lambda t, r: r * t, months, change, sigma=u)
    assert ours is not None
    assert ours.per_month == pytest.approx(rate, rel=1e-6)
    assert ours.u == pytest.approx(math.sqrt(variance), rel=1e-6)
    assert ours.dof == 8


def test_one_interval_knows_little_of_how_regular_it_is() -> None:
    rate = drift_rate([Interval(10.0, 2.0, 0.5)])
    assert rate == DriftRate(0.2, 0.05, 2.0, 1)
    # GUM, table G.2: k = 4.53 for two degrees of freedom.
    assert rate.expanded == pytest.approx(4.53 * 0.05, rel=1e-3)
    assert drift_rate([]) is None


def test_quoted_intervals_cover_the_truth() -> None:
    rng = np.random.default_rng(11)
    hits = 0
    trials = 2000
    for _ in range(trials):
        months = rng.uniform(6.0, 18.0, 6)
        scatter = rng.uniform(0.2, 1.0)  # more than the readings state
        change = -0.08 * months + scatter * rng.standard_normal(6)
        rate = drift_rate([Interval(m, c, 0.05) for m, c in zip(months, change, strict=True)])
        assert rate is not None
        hits += abs(rate.per_month + 0.08) <= rate.expanded
    assert 0.935 <= hits / trials <= 0.97


@given(st.floats(-0.9, 0.9), st.floats(0.0, 0.05), st.floats(-0.2, 0.2), st.floats(0.001, 0.05))
def test_earliest_is_never_after_expected(
    now: float, expanded: float, per_month: float, u: float
) -> None:
    expected, earliest = months_until(1.0, now, expanded, DriftRate(per_month, u, math.inf, 3))
    assert earliest <= expected
    if 0.01 < expected < 1000.0:
        assert abs(now + per_month * expected) == pytest.approx(1.0, abs=1e-3)


def test_what_is_outside_already_is_due_now() -> None:
    assert months_until(1.0, 1.2, 0.1, DriftRate(0.0, 0.01, math.inf, 3)) == (0.0, 0.0)


def test_control_limits_by_hand() -> None:
    # Mean 9, moving ranges 2, 4, 2: mean 8/3, limits ± 3/1.128 · 8/3 = ± 7.092 (by hand).
    limits = control_limits([9.0, 11.0, 7.0, 9.0])
    assert limits is not None
    assert limits.centre == pytest.approx(9.0)
    assert limits.high - limits.centre == pytest.approx(7.0922, abs=1e-4)
    assert limits.outside == ()
    steady = [0.0, 0.1] * 10
    spiked = control_limits([*steady, 5.0])
    assert spiked is not None
    assert spiked.outside == (20,)
    assert control_limits([1.0, 2.0]) is None


def test_figures_that_are_all_the_same_are_never_outside() -> None:
    limits = control_limits([0.2] * 12)
    assert limits is not None
    assert limits.outside == ()
