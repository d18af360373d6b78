"""The plumb view's figures: scale, scatter, and what the reading says to the hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitchwright.web.plumb import HALVES_CENTS, Hint, Plumb, half_for, scatter


def readings(cents: list[float], step_s: float = 0.05) -> list[tuple[float, float]]:
    return [(i * step_s, one) for i, one in enumerate(cents)]


def test_the_picture_is_wide_enough_for_the_reading() -> None:
    assert half_for(0.0, 0.1) == 0.5
    assert half_for(9.0, 0.1) == 10.0
    assert half_for(-9.4, 0.1) == 20.0
    assert half_for(1e9, 0.1) == HALVES_CENTS[-1]


@given(st.floats(-2000.0, 2000.0), st.floats(0.05, 10.0))
def test_reading_and_aim_are_always_in_the_picture(off: float, window: float) -> None:
    half = half_for(off, window)
    assert abs(off) < half
    assert 3.0 * window <= half


def test_it_tightens_one_step_at_a_time_and_only_after_a_moment() -> None:
    plumb = Plumb(0.0, 0.2, 100.0)
    seen = [one.half_cents for one in plumb.take(readings([100.0] * 4 + [1.0] * 60))]
    assert seen[0] == 200.0
    places = [HALVES_CENTS.index(half) for half in seen]
    assert places[-1] == HALVES_CENTS.index(half_for(1.0, 0.2))
    steps = np.diff(places)
    assert steps.min() == -1
    assert steps.max() <= 0
    changes = np.flatnonzero(steps) * 0.05
    assert np.diff(changes).min() > 0.3


def test_it_widens_at_once() -> None:
    plumb = Plumb(0.0, 0.2, 1.0)
    assert plumb.take([(0.0, 1.0)])[0].half_cents == 2.0
    assert plumb.take([(0.05, 30.0)])[0].half_cents == 50.0


def test_a_reading_at_the_edge_does_not_make_the_scale_jump_to_and_fro() -> None:
    rng = np.random.default_rng(5)
    plumb = Plumb(0.0, 0.2, 4.5)
    halves = [
        one.half_cents for one in plumb.take(readings(list(4.5 + 0.1 * rng.standard_normal(400))))
    ]
    assert np.count_nonzero(np.diff(halves)) <= 1


def test_scatter_is_that_about_the_straight_line() -> None:
    # numpy's own straight-line fit, with n - 2 degrees of freedom, is the independent reference.
    rng = np.random.default_rng(3)
    t = np.arange(16) * 0.05
    cents = 3.0 - 40.0 * t + 0.1 * rng.standard_normal(16)
    left = cents - np.polyval(np.polyfit(t, cents, 1), t)
    expected = math.sqrt(float(left @ left) / 14)
    assert scatter(zip(t, cents, strict=True)) == pytest.approx(expected)


def test_few_readings_say_nothing_about_their_scatter() -> None:
    assert scatter([(0.0, 1.0), (0.1, 2.0)]) is None
    assert Plumb(0.0, 0.2, 5.0).take([(0.0, 5.0)])[0].u_cents is None


def test_the_uncertainty_covers_the_mean() -> None:
    rng = np.random.default_rng(7)
    hits, count = 0, 0
    for _ in range(200):
        shown = Plumb(0.0, 0.2, 5.0).take(readings(list(5.0 + 0.1 * rng.standard_normal(40))))[-1]
        assert shown.u_cents is not None
        hits += abs(shown.mean_cents - 5.0) <= shown.u_cents
        count += 1
    assert hits / count > 0.85


def test_hints_follow_the_reading() -> None:
    still = Plumb(0.0, 0.5, 10.0).take(readings([10.0, 10.05, 9.95] * 6))
    assert {one.hint for one in still} == {Hint.BEGIN}
    nearer = Plumb(0.0, 0.5, 10.0).take(readings([10.0] * 5 + [8.0] * 6))
    assert nearer[-1].hint is Hint.ONWARD
    away = Plumb(0.0, 0.5, 10.0).take(readings([10.0] * 5 + [12.5] * 6))
    assert away[-1].hint is Hint.TURN_BACK
    past = Plumb(0.0, 0.5, 10.0).take(readings([10.0] * 5 + [-3.0] * 6))
    assert past[-1].hint is Hint.TURN_BACK
    there = Plumb(0.0, 0.5, 10.0).take(readings([10.0] * 5 + [0.1] * 6))
    assert there[-1].hint is Hint.INSIDE


def test_cents_count_from_the_aim() -> None:
    shown = Plumb(-20.0, 0.5, -10.0).take([(0.0, -12.0)])[0]
    assert shown.off_cents == pytest.approx(8.0)
    assert shown.mean_cents == pytest.approx(8.0)
