"""All keys together, those between the notes played included."""

from __future__ import annotations

import numpy as np
import pytest

from pitchwright.tracking import Point, survey_oscillator
from pitchwright.units import cv_of_note, note_to_hz, ratio_of_cents


def surveyed(rng: np.random.Generator, bump: float, step: int) -> tuple[float, float]:
    """The largest true error of 61 keys, and what the survey says of all of them."""
    truth = {n: bump * rng.normal() for n in range(24, 85)}
    order = [60, 24, 84, *range(24 + step, 84, step), 60, 24, 84]
    points = []
    for i, n in enumerate(order):
        cents = truth[n] + 0.05 * rng.normal()
        f_hz = note_to_hz(n) * ratio_of_cents(cents)
        points.append(Point(n, cv_of_note(n), f_hz, 0.004, 1.2 * i))
    said = survey_oscillator("Heron", points).all_keys
    assert said is not None
    assert (said.low, said.high, said.keys) == (24, 84, 61)
    assert f"all 61 keys from C1 to C6 lie within ±{said.within_cents:.1f}" in said.sentence
    return max(map(abs, truth.values())), said.within_cents


@pytest.mark.parametrize("bump", [0.1, 0.5])
def test_all_keys_lie_within_what_is_said_of_them_jointly(bump: float) -> None:
    """95 in 100; of 60 surveys 53 are what chance allows at one in a hundred."""
    rng = np.random.default_rng(90)
    both = [surveyed(rng, bump, 6) for _ in range(60)]
    assert sum(true <= said for true, said in both) >= 53
    assert np.median([said / true for true, said in both]) < 2.6


def test_more_notes_make_the_statement_narrower() -> None:
    rng = np.random.default_rng(91)
    few = np.median([surveyed(rng, 0.3, 12)[1] for _ in range(15)])
    many = np.median([surveyed(rng, 0.3, 3)[1] for _ in range(15)])
    assert many < few


def test_three_notes_say_nothing_of_the_others() -> None:
    points = [Point(n, cv_of_note(n), note_to_hz(n), 0.01, float(n)) for n in (36, 60, 84)]
    assert survey_oscillator("Heron", points).all_keys is None
