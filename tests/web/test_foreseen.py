"""As left, foreseen: the trimmers' best on the curve as it stands."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from pitchwright.procedures.outcomes import CurveKnown
from pitchwright.web.foreseen import foresee

NOTES = np.arange(24.0, 85.0, 6.0)


def foreseen(cents: np.ndarray[Any, Any], *kinds: str, **more: Any) -> np.ndarray[Any, Any]:
    curve = CurveKnown(
        "Heron", tuple(NOTES.tolist()), tuple(cents.tolist()), (0.1,) * len(NOTES), 0
    )
    trimmers = [{"name": kind, "trimmer_kind": kind} for kind in kinds]
    return np.array(foresee(curve, {"trimmers": trimmers, **more}))


def test_base_and_scale_take_a_straight_line_away() -> None:
    line = 8.0 + 0.6 * (NOTES - 24.0)
    assert np.abs(foreseen(line, "base fine", "scale")).max() == pytest.approx(0.0, abs=1e-9)


def test_base_alone_centres_the_curve() -> None:
    line = 8.0 + 0.6 * (NOTES - 24.0)
    left = foreseen(line, "base coarse")
    assert left.max() == pytest.approx(-left.min())
    assert np.ptp(left) == pytest.approx(np.ptp(line))


def test_a_parabola_is_left_as_chebyshev_says() -> None:
    # Source: P. L. Chebyshev; the best line to x² on [-1, 1] leaves 1/2, at five points of a grid
    # that holds -1, 0 and 1 (standard result of minimax approximation).
    x = (NOTES - 54.0) / 30.0
    assert np.abs(foreseen(x**2, "base fine", "scale")).max() == pytest.approx(0.5)


def test_what_may_not_be_touched_is_not_counted_on() -> None:
    line = 8.0 + 0.6 * (NOTES - 24.0)
    curve = CurveKnown("Heron", tuple(NOTES.tolist()), tuple(line.tolist()), (0.1,) * len(NOTES), 0)
    untouched = [{"name": "s", "trimmer_kind": "scale", "may_touch": False}]
    assert foresee(curve, {"trimmers": untouched}) == ()


def test_nothing_is_foreseen_without_trimmers() -> None:
    assert foreseen(NOTES).size == 0
