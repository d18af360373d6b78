"""The model's line through a curve in the middle of a trim."""

from __future__ import annotations

import numpy as np
import pytest

from pitchwright.procedures.outcomes import CurveKnown
from pitchwright.web.modelled import modelled
from pitchwright.web.sheet_data import of_curves

NOTES = tuple(float(note) for note in range(24, 85, 6))


def curve(cents: tuple[float, ...], notes: tuple[float, ...] = NOTES) -> CurveKnown:
    return CurveKnown("Heron", notes, cents, (0.05,) * len(notes), 0)


def test_a_line_goes_through_base_and_scale_from_first_to_last_note() -> None:
    straight = tuple(3.0 + 7.0 * (note - 60.0) / 12.0 for note in NOTES)
    line = modelled(curve(straight), {})
    assert (line[0][0], line[-1][0]) == (24.0, 84.0)
    assert len(line) == 61
    for note, cents in line:
        assert cents == pytest.approx(3.0 + 7.0 * (note - 60.0) / 12.0, abs=0.02)


def test_it_smooths_what_scatters_and_does_not_join_the_dots() -> None:
    scatter = np.random.default_rng(5).normal(0.0, 0.05, len(NOTES))
    dots = tuple(float(cents) for cents in 3.0 + scatter)
    at = dict(modelled(curve(dots), {}))
    left = [at[note] - cents for note, cents in zip(NOTES, dots, strict=True)]
    assert 0.02 < float(np.std(left)) < 0.08


def test_two_notes_are_not_fitted_and_their_dots_are_joined() -> None:
    two = curve((1.0, 2.0), (36.0, 48.0))
    assert modelled(two, {}) == ()
    sheet = of_curves(two, None, 1.0)
    assert not sheet.fitted
    assert sheet.model == ((36.0, 1.0), (48.0, 2.0))


def test_the_sheet_says_that_its_line_is_fitted() -> None:
    known = curve(tuple(0.1 * note for note in NOTES))
    sheet = of_curves(known, None, 1.0, model=modelled(known, {}))
    assert sheet.fitted
    assert len(sheet.model) == 61
