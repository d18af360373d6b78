"""Pitches against a reference on another channel: the clock's error cancels."""

from __future__ import annotations

import math

import pytest

from pitchwright.bench.live.reference import Reference
from pitchwright.pitch import FlagKind, Reading
from pitchwright.units import cents_between

FAST_CLOCK = 1.0 - 80e-6  # all pitches read this much low


def reading(f_hz: float | None, u_cents: float = 0.01) -> Reading:
    return Reading(f_hz, u_cents, -12.0, 100.0)


def test_a_clock_that_is_off_cancels_where_the_reference_is_known() -> None:
    there = Reference(1, 440.0)
    found = there.against(reading(261.6 * FAST_CLOCK), reading(440.0 * FAST_CLOCK, 0.02))
    assert found.f_hz is not None
    assert cents_between(found.f_hz, 261.6) == pytest.approx(0.0, abs=1e-9)
    assert found.u_cents == pytest.approx(math.hypot(0.01, 0.02))


def test_one_that_is_not_known_counts_as_its_first_reading_and_takes_drift_out() -> None:
    there = Reference(1)
    first = there.against(reading(300.0), reading(441.0))
    later = there.against(reading(300.0 * 1.001), reading(441.0 * 1.001))
    assert first.f_hz == 300.0
    assert later.f_hz == pytest.approx(300.0)


def test_without_the_reference_a_reading_is_doubted_and_silence_stays_silence() -> None:
    there = Reference(1, 440.0)
    doubted = there.against(reading(300.0), reading(None))
    assert doubted.has(FlagKind.UNSTEADY)
    assert there.against(reading(None), reading(440.0)).f_hz is None
