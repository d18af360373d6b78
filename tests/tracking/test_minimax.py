"""The exchange against a general-purpose linear programme (scipy, HiGHS), and what it promises."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.optimize import linprog

from pitchwright.tracking import minimax

Array = NDArray[np.float64]
Bounds = list[tuple[float, float]]


def by_scipy(columns: Array, values: Array, bounds: Bounds | None = None) -> float:
    n, k = columns.shape
    ones = np.ones((n, 1))
    solved = linprog(
        np.append(np.zeros(k), 1.0),
        A_ub=np.block([[columns, -ones], [-columns, -ones]]),
        b_ub=np.concatenate([values, -values]),
        bounds=[*(bounds or [(-np.inf, np.inf)] * k), (0.0, np.inf)],
        method="highs",
    )
    assert solved.fun is not None
    return float(solved.fun)


def keyboard(terms: int, step: int = 1) -> Array:
    v = np.arange(0, 61, step) / 12.0
    return np.column_stack([np.ones_like(v), v - 3.0, 0.0327 * 2.0**v])[:, :terms]


@given(seed=st.integers(0, 2**32 - 1), terms=st.integers(1, 3), step=st.sampled_from([1, 6, 12]))
def test_no_fit_has_a_smaller_greatest_error(seed: int, terms: int, step: int) -> None:
    rng = np.random.default_rng(seed)
    a = keyboard(terms, step)
    y = rng.normal(size=len(a)) * rng.choice([1e-3, 0.3, 50.0]) + a @ rng.normal(size=terms) * 20.0
    best = minimax(a, y)
    assert best.max_error == pytest.approx(by_scipy(a, y), abs=1e-7)
    np.testing.assert_allclose(best.errors, y - a @ best.coefficients, atol=1e-12)


@given(seed=st.integers(0, 2**32 - 1), terms=st.integers(1, 3))
def test_greatest_error_is_reached_with_alternating_sign(seed: int, terms: int) -> None:
    """Base, scale and high end over ascending notes form a Chebyshev system."""
    rng = np.random.default_rng(seed)
    a = keyboard(terms)
    best = minimax(a, rng.normal(size=61))
    signs = np.sign(best.errors[list(best.extremal)])
    assert 1 + np.count_nonzero(np.diff(signs)) >= terms + 1


@given(seed=st.integers(0, 2**32 - 1))
def test_bounds_hold_and_nothing_inside_them_is_better(seed: int) -> None:
    rng = np.random.default_rng(seed)
    a = keyboard(3, 6)
    y = rng.normal(size=11) + a @ rng.normal(size=3) * 3.0
    bounds = [(-abs(low), abs(high)) for low, high in rng.normal(size=(3, 2)) * 2.0]
    best = minimax(a, y, bounds)
    for value, (low, high) in zip(best.coefficients, bounds, strict=True):
        assert low - 1e-9 <= value <= high + 1e-9
    assert best.max_error == pytest.approx(by_scipy(a, y, bounds), abs=1e-7)


@pytest.mark.parametrize(
    ("a", "y"),
    [
        (np.ones((1, 2)), np.array([3.0])),
        (np.column_stack([np.ones(5), np.ones(5)]), np.arange(5.0)),
        (np.column_stack([np.ones(6), np.repeat([0.0, 1.0, 2.0], 2)]), np.arange(6.0) ** 2),
        (np.column_stack([np.ones(4), np.zeros(4)]), np.array([0.0, 1.0, 0.0, 1.0])),
        (keyboard(3), np.zeros(61)),
    ],
    ids=["one row", "same column twice", "rows twice", "empty column", "nothing to fit"],
)
def test_degenerate_cases_are_solved_all_the_same(a: Array, y: Array) -> None:
    assert minimax(a, y).max_error == pytest.approx(by_scipy(a, y), abs=1e-9)


def test_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match="do not match"):
        minimax(np.ones((3, 1)), np.ones(2))
    with pytest.raises(ValueError, match="finite"):
        minimax(np.ones((2, 1)), np.array([1.0, np.nan]))
    with pytest.raises(ValueError, match="low ≤ high"):
        minimax(np.ones((2, 1)), np.ones(2), [(1.0, -1.0)])
