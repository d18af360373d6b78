"""Many best lines at once against the minimax solver, one at a time."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitchwright.ensemble.lines import best_lines
from pitchwright.tracking import minimax


@given(
    seed=st.integers(0, 10_000),
    notes=st.integers(2, 30),
    low=st.floats(-20.0, 5.0),
    width=st.floats(0.0, 25.0),
)
def test_as_good_as_the_minimax_solver(seed: int, notes: int, low: float, width: float) -> None:
    rng = np.random.default_rng(seed)
    octaves = np.sort(rng.uniform(0.0, 7.0, notes)) + 0.01 * np.arange(notes)
    cents = rng.normal(0.0, 10.0, (3, notes))
    slope, base, left = best_lines(cents, octaves, low, low + width)
    shapes = np.column_stack([np.ones(notes), octaves])
    for row in range(3):
        best = minimax(shapes, -cents[row], [(-math.inf, math.inf), (low, low + width)])
        assert left[row] == pytest.approx(best.max_error, abs=1e-6)
        after = cents[row] + slope[row] * octaves + base[row]
        assert np.abs(after).max() == pytest.approx(left[row], abs=1e-9)
        assert low <= slope[row] <= low + width


def test_free_slopes_and_single_notes() -> None:
    octaves = np.linspace(0.0, 5.0, 11)
    slope, base, left = best_lines(4.0 - 7.0 * octaves, octaves, -math.inf, math.inf)
    assert (float(slope), float(base), float(left)) == pytest.approx((7.0, -4.0, 0.0), abs=1e-9)
    slope, base, left = best_lines([[3.0]], [1.0], -1.0, 1.0)
    assert (slope[0], base[0], left[0]) == (0.0, -3.0, 0.0)


def test_what_is_straight_is_left_alone_exactly() -> None:
    slope, _, _ = best_lines(np.full(5, 2.0), np.arange(5.0), -3.0, 3.0)
    assert float(slope) == 0.0
