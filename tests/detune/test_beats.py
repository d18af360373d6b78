"""Beats and cents, each from the other."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from pitchwright.detune import Interval, beat_hz, cents_for_beat
from pitchwright.errors import InputError
from pitchwright.units import ratio_of_cents


@given(
    cents=st.floats(-99.0, 99.0),
    f_hz=st.floats(16.0, 8000.0),
    p=st.integers(1, 8),
    q=st.integers(1, 8),
)
def test_there_and_back(cents: float, f_hz: float, p: int, q: int) -> None:
    assume(q <= p)
    interval = Interval(p, q)
    upper_hz = f_hz * ratio_of_cents(interval.cents + cents)
    beats = beat_hz(f_hz, upper_hz, interval)
    assert cents_for_beat(beats, f_hz, interval) == pytest.approx(cents, abs=1e-6)


def test_a_fifth_is_a_fifth() -> None:
    assert Interval(3, 2).cents == pytest.approx(701.955, abs=5e-4)
    assert beat_hz(200.0, 300.5, Interval(3, 2)) == pytest.approx(1.0)


@pytest.mark.parametrize("wanted_hz", [math.nan, math.inf])
def test_a_beat_rate_must_be_a_number(wanted_hz: float) -> None:
    with pytest.raises(InputError, match="must be a number"):
        cents_for_beat(wanted_hz, 100.0)


@pytest.mark.parametrize("wanted_hz", [20.0, -20.0, -200.0])
def test_a_beat_rate_that_cannot_be(wanted_hz: float) -> None:
    with pytest.raises(InputError, match=r"cannot be at C1 \(32.7 Hz\).*semitone"):
        cents_for_beat(wanted_hz, 32.7032)


@pytest.mark.parametrize(("p", "q"), [(1, 2), (0, 0), (17, 1), (3, -2)])
def test_no_interval(p: int, q: int) -> None:
    with pytest.raises(InputError, match="not an interval that beats"):
        Interval(p, q)
