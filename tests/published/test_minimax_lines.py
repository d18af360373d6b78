"""Best straight lines in the sense of the smallest greatest error.

- exp on [0, 1]: worked answer on a question-and-answer page, read; recomputed.
- exp on [-1, 1]: companion programs to a numerical-analysis textbook, example 4.2 (K. E. Atkinson,
  *An Introduction to Numerical Analysis*, from memory): 1.2643 + 1.1752 x, read; recomputed.
- x² on [0, 1]: standard exercise, computed.
- The error reaches its greatest size three times with alternating sign: Chebyshev's theorem.
"""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from pitchwright.tracking import minimax

Array = NDArray[np.float64]
LINES: tuple[tuple[Callable[[Array], Array], float, float, float, float, float, float], ...] = (
    # function, from, to, slope, intercept, greatest error, where inside it is reached
    (np.exp, 0.0, 1.0, 1.7182818285, 0.8940665837, 0.1059334163, 0.5413248546),
    (np.exp, -1.0, 1.0, 1.1752011936, 1.2642790490, 0.2788015858, 0.1614393616),
    (np.square, 0.0, 1.0, 1.0, -0.125, 0.125, 0.5),
)


@pytest.mark.parametrize(("f", "low", "high", "slope", "intercept", "error", "inside"), LINES)
def test_line(
    f: Callable[[Array], Array],
    low: float,
    high: float,
    slope: float,
    intercept: float,
    error: float,
    inside: float,
) -> None:
    x = np.linspace(low, high, 20_001)
    best = minimax(np.column_stack([np.ones_like(x), x]), f(x))
    assert best.coefficients == pytest.approx([intercept, slope], abs=2e-8)
    assert best.max_error == pytest.approx(error, abs=2e-8)
    touched = best.errors[list(best.extremal)]
    assert x[best.extremal[0]] == low
    assert x[best.extremal[-1]] == high
    assert np.abs(x[list(best.extremal)] - inside).min() < 2e-4
    assert np.sign(touched)[[0, -1]] == pytest.approx([1.0, 1.0])
    assert touched.min() == pytest.approx(-error, abs=1e-8)


def test_least_squares_is_not_it() -> None:
    # (18 - 6e) x + (4e - 10), greatest error 0.1548 instead of 0.1059 (computed).
    x = np.linspace(0.0, 1.0, 20_001)
    best = minimax(np.column_stack([np.ones_like(x), x]), np.exp(x))
    squares = np.exp(x) - (18.0 - 6.0 * np.e) * x - (4.0 * np.e - 10.0)
    assert np.abs(squares).max() == pytest.approx(0.1548454854, abs=1e-9)
    assert best.max_error < 0.7 * np.abs(squares).max()
