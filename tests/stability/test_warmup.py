from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.stability import Forecast, Readiness, forecast

Array = NDArray[np.float64]
MakeCents = Callable[..., Array]


def ready_at_s(amplitude_cents: float, tau_s: float) -> float:
    """A exp(-t / tau) (1 - exp(-1800 / tau)) = 1 cent, solved by hand."""
    return tau_s * math.log(amplitude_cents * -math.expm1(-1800.0 / tau_s))


@pytest.mark.parametrize(("amplitude", "tau_s"), [(20.0, 600.0), (-40.0, 900.0), (12.0, 1800.0)])
def test_one_time_constant_is_foreseen(warm_up: MakeCents, amplitude: float, tau_s: float) -> None:
    truth_s = ready_at_s(abs(amplitude), tau_s)
    t_s = np.arange(5.0, truth_s / 2.0, 5.0)
    found = forecast(t_s, warm_up(t_s, (amplitude, tau_s)))
    assert found.readiness is Readiness.WARMING
    left_s = truth_s - t_s[-1]
    assert found.ready_in_low_s < left_s < found.ready_in_high_s
    assert found.ready_in_s == pytest.approx(left_s, rel=0.35)
    assert found.sentence.startswith("Ready in about ")
    assert "is allowed" in found.why


def test_what_is_over_is_ready(warm_up: MakeCents) -> None:
    t_s = np.arange(5.0, 7200.0, 5.0)
    found = forecast(t_s, warm_up(t_s, (30.0, 600.0)))
    assert found.readiness is Readiness.READY
    assert found.sentence == "Ready."
    assert found.ready_in_s == 0.0
    assert found.drift_cents < 0.1
    assert found.rest_cents == pytest.approx(0.0, abs=3.0 * found.u_rest_cents)


def test_what_wanders_more_than_is_allowed_never_settles(warm_up: MakeCents) -> None:
    t_s = np.arange(10.0, 4.0 * 3600.0, 10.0)
    found = forecast(t_s, warm_up(t_s, (10.0, 600.0), wander_cents=0.7))
    assert found.readiness is Readiness.NEVER_SETTLES
    assert found.wander_cents > 1.0
    assert found.sentence == (
        f"This one never settles: it wanders by ±{found.wander_cents:.1f} cents, "
        "so no trimming can be better than that."
    )
    assert "wander alone" in found.why


def test_wander_is_measured(warm_up: MakeCents) -> None:
    """Half-width as defined: twice the deviation of minute means within half an hour."""
    t_s = np.arange(5.0, 8.0 * 3600.0, 5.0)
    wander = warm_up(t_s, noise_cents=0.0, wander_cents=0.15)
    minutes = wander[: t_s.size // 12 * 12].reshape(-1, 12).mean(axis=1)
    halves = minutes[: minutes.size // 30 * 30].reshape(-1, 30)
    truth = 2.0 * math.sqrt(float(np.mean(np.var(halves, axis=1))))
    found = forecast(t_s, wander + 20.0 * np.exp(-t_s / 600.0))
    assert found.wander_cents == pytest.approx(truth, rel=0.25)


@pytest.mark.parametrize("readings", [0, 1, 2, 20])
def test_too_early_says_so(readings: int) -> None:
    t_s = np.arange(0.0, 5.0 * readings, 5.0)
    found = forecast(t_s, np.zeros(readings))
    assert found.readiness is Readiness.TOO_EARLY
    assert "common practice" in found.sentence
    assert "so far" in found.why
    assert found.ready_in_high_s == math.inf
    assert all(np.all(np.isnan(part)) for part in found.curve(t_s))


def test_nothing_wanders_in_a_perfect_history() -> None:
    """Constant readings, no noise at all: nothing to divide by, and still an answer."""
    t_s = np.arange(0.0, 3600.0, 10.0)
    found = forecast(t_s, np.zeros(t_s.size))
    assert found.readiness is Readiness.READY
    assert found.wander_cents < 0.1


def test_thermometer_explains_what_the_room_does(warm_up: MakeCents) -> None:
    t_s = np.arange(5.0, 5400.0, 5.0)
    room_c = 21.0 + 0.8 * np.sin(2.0 * np.pi * t_s / 3600.0)
    cents = warm_up(t_s, (25.0, 700.0)) + 2.5 * room_c
    noise = np.random.default_rng(7).standard_normal(t_s.size)
    knowing = forecast(t_s, cents, room_c + 0.03 * noise)
    guessing = forecast(t_s, cents)
    assert knowing.cents_per_k == pytest.approx(2.5, abs=3.0 * knowing.u_cents_per_k + 0.02)
    assert knowing.u_cents_per_k < 0.2
    assert knowing.wander_cents < 0.5 * guessing.wander_cents
    assert math.isnan(guessing.cents_per_k)
    assert "kelvin" in knowing.why
    assert "kelvin" not in guessing.why


@pytest.mark.parametrize("phase", [0.0, 1.5, 3.0, 4.5])
def test_a_room_that_swings_is_not_taken_for_the_warm_up(
    rng: np.random.Generator, phase: float
) -> None:
    """13 cents per kelvin in a swinging room; the converter bends the warm-up besides."""
    t_s = np.arange(2.0, 4500.0, 10.0)
    room_k = 0.4 * np.sin(2.0 * np.pi * t_s / 4200.0 + phase)
    below_k = 7.0 * np.exp(-t_s / 300.0) + 3.0 * np.exp(-t_s / 1800.0)
    cents = 13.0 * (room_k - below_k) * (1.0 - below_k / 298.0)
    cents += np.cumsum(0.06 * np.sqrt(10.0 / 60.0) * rng.standard_normal(t_s.size))
    cents += 0.03 * rng.standard_normal(t_s.size)
    seen_c = 25.0 + room_k + 0.03 * rng.standard_normal(t_s.size)
    truth_s = ready_at_s(39.0, 1800.0)
    for now_s in (1200.0, 2400.0, 4490.0):
        n = int(np.searchsorted(t_s, now_s))
        found = forecast(t_s[:n], cents[:n], seen_c[:n])
        assert found.readiness is Readiness.WARMING
    assert abs(found.cents_per_k - 13.0) < 3.0 * found.u_cents_per_k
    assert found.u_cents_per_k < 1.0
    left_s = truth_s - now_s
    assert 0.5 * left_s < found.ready_in_high_s
    assert found.ready_in_low_s < 2.0 * left_s


def test_a_temperature_without_a_reading_is_no_temperature(warm_up: MakeCents) -> None:
    t_s = np.arange(5.0, 1200.0, 5.0)
    cents = warm_up(t_s, (25.0, 700.0))
    without, empty = forecast(t_s, cents), forecast(t_s, cents, np.full(t_s.size, np.nan))
    assert without.ready_in_s == empty.ready_in_s


def test_gaps_do_no_harm(warm_up: MakeCents) -> None:
    t_s = np.arange(5.0, 2400.0, 5.0)
    cents = warm_up(t_s, (30.0, 900.0))
    truth_s = ready_at_s(30.0, 900.0) - t_s[-1]
    cents[100:220] = np.nan
    found = forecast(t_s, cents)
    assert found.ready_in_low_s < truth_s < found.ready_in_high_s


def test_curve_passes_through_the_readings_and_widens_ahead(warm_up: MakeCents) -> None:
    t_s = np.arange(5.0, 1500.0, 5.0)
    cents = warm_up(t_s, (30.0, 900.0))
    found = forecast(t_s, cents)
    middle, low, high = found.curve(t_s)
    assert np.std(cents - middle) < 0.06
    _, low_ahead, high_ahead = found.curve(np.array([1500.0, 3000.0, 6000.0]))
    assert np.all(np.diff(high_ahead - low_ahead) > 0.0)
    assert np.all(low <= middle)
    assert np.all(middle <= high)


@given(st.floats(-1e6, 1e6), st.floats(-50.0, 50.0))
@settings(max_examples=10)
def test_clock_and_reference_do_not_matter(shift_s: float, shift_cents: float) -> None:
    t_s = np.arange(0.0, 1500.0, 10.0)
    cents = 30.0 * np.exp(-t_s / 900.0) + 0.05 * np.random.default_rng(3).standard_normal(150)
    here, there = forecast(t_s, cents), forecast(t_s + shift_s, cents + shift_cents)
    assert there.ready_in_s == pytest.approx(here.ready_in_s, rel=0.02)
    assert there.rest_cents - shift_cents == pytest.approx(here.rest_cents, abs=0.05)


def test_a_looser_tolerance_is_reached_sooner(warm_up: MakeCents) -> None:
    t_s = np.arange(5.0, 1500.0, 5.0)
    cents = warm_up(t_s, (40.0, 1200.0))
    waits_s = [forecast(t_s, cents, tolerance_cents=cent).ready_in_s for cent in (0.5, 1.0, 3.0)]
    assert waits_s[0] > waits_s[1] > waits_s[2]


@pytest.mark.parametrize(("tolerance", "horizon_s"), [(0.0, 1800.0), (-1.0, 60.0), (1.0, 0.0)])
def test_a_tolerance_of_nothing_is_refused(tolerance: float, horizon_s: float) -> None:
    with pytest.raises(InputError, match="more than zero"):
        forecast(np.arange(9.0), np.zeros(9), tolerance_cents=tolerance, horizon_s=horizon_s)


def test_a_clock_that_runs_back_is_refused() -> None:
    with pytest.raises(InputError, match="clock jumps back"):
        forecast(np.array([0.0, 10.0, 5.0, 20.0]), np.zeros(4))


@pytest.mark.parametrize(
    ("middle_s", "low_s", "high_s", "sentence"),
    [
        (720.0, 480.0, 1200.0, "Ready in about 12 minutes, between 8 and 20."),
        (720.0, 0.0, 1200.0, "Ready in about 12 minutes, between now and 20 minutes."),
        (
            3600.0,
            2400.0,
            9000.0,
            "Ready in about 60 minutes, between 40 minutes and 2 hours 30 minutes.",
        ),
        (
            9000.0,
            7300.0,
            math.inf,
            "Ready in about 2 hours 30 minutes, between 2 hours and more than 12 hours.",
        ),
        (0.0, 0.0, 300.0, "Perhaps ready already; at the latest in 5 minutes."),
        (
            math.inf,
            5400.0,
            math.inf,
            "Not ready within the next 12 hours; at the earliest in 90 minutes.",
        ),
    ],
)
def test_sentences(middle_s: float, low_s: float, high_s: float, sentence: str) -> None:
    found = Forecast(
        readiness=Readiness.WARMING,
        ready_in_s=middle_s,
        ready_in_low_s=low_s,
        ready_in_high_s=high_s,
        sure=0.2,
        drift_cents=3.0,
        wander_cents=0.2,
        u_wander_cents=0.05,
        rest_cents=0.0,
        u_rest_cents=0.1,
        cents_per_k=math.nan,
        u_cents_per_k=math.nan,
        lag_s=math.nan,
        tolerance_cents=1.0,
        horizon_s=1800.0,
        watched_s=600.0,
    )
    assert found.sentence == sentence


def test_wander_that_is_not_known_well_is_called_possible_only(warm_up: MakeCents) -> None:
    t_s = np.arange(10.0, 900.0, 10.0)
    found = forecast(t_s, warm_up(t_s, (25.0, 700.0)), tolerance_cents=0.3)
    assert found.wander_cents > 0.3
    assert not found.restless
    assert "Even then" not in found.sentence
    assert "It may wander by more than that" in found.why


def test_wander_beyond_the_tolerance_is_said_while_it_warms_up(warm_up: MakeCents) -> None:
    t_s = np.arange(10.0, 2400.0, 10.0)
    found = forecast(t_s, warm_up(t_s, (60.0, 2400.0), wander_cents=1.5))
    assert found.readiness is Readiness.WARMING
    assert "Even then it wanders" in found.sentence
