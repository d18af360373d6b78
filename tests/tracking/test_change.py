"""A change over time from the notes that two surveys share."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import linregress

from pitchwright.tracking import CurveEntry, Point, survey_oscillator
from pitchwright.tracking.change import change_between
from pitchwright.units import cv_of_note, note_to_hz, ratio_of_cents

ORDER = [60, 24, 84, *range(30, 84, 6), 60, 24, 84]


def curve(
    rng: np.random.Generator, bumps: dict[int, float], scale: float
) -> tuple[CurveEntry, ...]:
    points = []
    for i, n in enumerate(ORDER):
        cents = bumps[n] + scale * (n - 60) / 12.0 + 0.1 * rng.normal()
        f_hz = note_to_hz(n) * ratio_of_cents(cents)
        points.append(Point(n, cv_of_note(n), f_hz, 0.004, 1.2 * i))
    return survey_oscillator("Heron", points).curve.entries


def entry(note: float, cents: float) -> CurveEntry:
    return CurveEntry(note, (note - 24.0) / 12.0, note_to_hz(note), cents, 0.1)


def test_equal_uncertainties_give_the_plain_regression() -> None:
    """Checked with scipy's linregress."""
    notes = [24.0, 36.0, 48.0, 60.0, 72.0, 84.0]
    moved = [0.1, 0.35, 0.7, 1.0, 1.3, 1.7]
    found = change_between(
        [entry(n, 5.0) for n in notes],
        [entry(n, 5.0 + m) for n, m in zip(notes, moved, strict=True)],
    )
    assert found is not None
    line = linregress([(n - 60.0) / 12.0 for n in notes], moved)
    assert found.scale_cents_per_oct == pytest.approx(line.slope)
    assert found.base_cents == pytest.approx(line.intercept)


def test_a_change_of_a_third_of_a_cent_is_found_and_none_is_invented() -> None:
    rng = np.random.default_rng(70)
    found = alarms = 0
    for _ in range(25):
        bumps = {n: float(rng.normal()) for n in set(ORDER)}
        before = curve(rng, bumps, 2.0)
        same = change_between(before, curve(rng, bumps, 2.0))
        other = change_between(before, curve(rng, bumps, 2.3))
        assert same is not None
        assert other is not None
        alarms += same.scale_changed
        found += other.scale_changed
    assert found >= 22
    assert alarms <= 3


def test_two_notes_in_common_say_nothing() -> None:
    assert change_between([entry(24, 0), entry(60, 0)], [entry(24, 1), entry(60, 1)]) is None
