"""The smallest greatest error: Chebyshev fit of any set of columns.

Trimmers cannot bend a curve at will: each adds its own shape (base a constant, scale a line in
volts, the high end a line in hertz). Which amount of each leaves the smallest greatest error is a
linear programme. It is solved here by exchange (E. Stiefel, *Numerische Mathematik* 1, 1959, from
memory): k columns are pinned by k + 1 rows whose errors are equal and of the signs that no change
of the coefficients can shrink together; the row that is worst outside comes in, one goes out, and
the common error grows until no row is worse.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import linprog

__all__ = ["Minimax", "minimax"]

Array = NDArray[np.float64]

_MOST_EXCHANGES = 200
_SINGULAR = 1e-11


@dataclass(frozen=True, slots=True, eq=False)
class Minimax:
    """A fit whose greatest absolute error is as small as it can be.

    Attributes
    ----------
    coefficients
        One for each column, in the columns' unit⁻¹ × the values' unit; shape (k,).
    max_error
        Greatest absolute error left, in the unit of the values.
    extremal
        Rows that reach it, ascending: k + 1 or more unless a bound is active or rows coincide.
    errors
        Values minus fit, shape (n,).
    """

    coefficients: Array
    max_error: float
    extremal: tuple[int, ...]
    errors: Array


def minimax(
    columns: ArrayLike, values: ArrayLike, bounds: list[tuple[float, float]] | None = None
) -> Minimax:
    """Fit ``values ≈ columns @ coefficients`` with the smallest greatest absolute error.

    Parameters
    ----------
    columns
        Basis columns, shape (n, k), k ≥ 1. Rows may be weighted by scaling them and their value.
    values
        Shape (n,).
    bounds
        Lowest and highest allowed coefficient of each column (infinite where free).

    Returns
    -------
    Minimax
        One best fit. Where several are equally good (fewer rows than columns, columns that the
        rows cannot tell apart), one of them.

    Raises
    ------
    ValueError
        Where shapes do not match, or a value is not finite.
    """
    a = np.asarray(columns, dtype=np.float64)
    y = np.asarray(values, dtype=np.float64)
    if a.ndim != 2 or y.shape != (a.shape[0],) or not a.shape[0] or not a.shape[1]:
        raise ValueError(f"columns {a.shape} and values {y.shape} do not match")
    if not (np.isfinite(a).all() and np.isfinite(y).all()):
        raise ValueError("columns and values must be finite")
    coefficients = _free(a, y) if bounds is None else _bounded(a, y, bounds)
    errors = y - a @ coefficients
    greatest = float(np.abs(errors).max())
    near = greatest - 1e-9 * max(greatest, float(np.abs(y).max()), 1e-300)
    return Minimax(
        coefficients=coefficients,
        max_error=greatest,
        extremal=tuple(int(i) for i in np.flatnonzero(np.abs(errors) >= near)),
        errors=errors,
    )


def _bounded(a: Array, y: Array, bounds: list[tuple[float, float]]) -> Array:
    """Solve with bounds, by pinning coefficients to bounds that the free solution breaks.

    The way from the bounded to the free optimum leaves the box through a bound that the free
    optimum breaks, so at least one of those is active: trying each in turn misses nothing.
    """
    if len(bounds) != a.shape[1] or any(not low <= high for low, high in bounds):
        raise ValueError("one pair of bounds, low ≤ high, is needed for each column")
    free = _free(a, y)
    best, best_error = np.array([low for low, _ in bounds]), np.inf
    broken = [
        (k, low if free[k] < low else high)
        for k, (low, high) in enumerate(bounds)
        if not low - 1e-12 <= free[k] <= high + 1e-12
    ]
    if not broken:
        return free
    for k, pinned in broken:
        rest = np.delete(a, k, axis=1)
        inner = (
            _bounded(rest, y - pinned * a[:, k], [b for i, b in enumerate(bounds) if i != k])
            if rest.shape[1]
            else np.empty(0)
        )
        trial = np.insert(inner, k, pinned)
        error = float(np.abs(y - a @ trial).max())
        if error < best_error:
            best, best_error = trial, error
    return best


def _free(a: Array, y: Array) -> Array:
    n, k = a.shape
    size = np.abs(a).max(axis=0)
    if n <= k or not size.all():
        return _by_linear_programme(a, y)
    scaled = a / size
    solved = _exchange(scaled, y)
    return _by_linear_programme(a, y) if solved is None else solved / size


def _exchange(a: Array, y: Array) -> Array | None:
    """Coefficients by exchange; None where the rows are too degenerate for it."""
    k = a.shape[1]
    rows = _first_rows(a, y)
    if rows is None:
        return None
    tolerance = 1e-12 * max(float(np.abs(y).max()), 1e-300)
    best = -np.inf
    mix, share = np.ones(k + 1), np.zeros(k + 1)
    for _ in range(_MOST_EXCHANGES):
        # Signs: the one combination of the k + 1 rows that vanishes in every column.
        square = a[rows]
        try:
            inverse = np.linalg.inv(square[:k])
        except np.linalg.LinAlgError:
            return None
        mix[:k] = -square[k] @ inverse
        weight = np.abs(mix)
        if weight.min() < _SINGULAR * weight.max():
            return None
        pinned = y[rows]
        common = float(mix @ pinned) / float(weight.sum())
        coefficients = inverse @ (pinned[:k] - common * np.sign(mix[:k]))
        errors = y - a @ coefficients
        worst = int(np.abs(errors).argmax())
        level = abs(common)
        if abs(errors[worst]) <= level + tolerance:
            return coefficients
        if level <= best - tolerance:  # rounding has taken over: no progress any more
            return None
        best = level
        # Which row the newcomer displaces: the one whose share reaches zero first.
        share[:k] = (a[worst] @ inverse) / mix[:k]
        same_way = (errors[worst] >= 0.0) == (common >= 0.0)
        rows[int(share.argmax() if same_way else share.argmin())] = worst
    return None


def _first_rows(a: Array, y: Array) -> NDArray[np.intp] | None:
    """Choose k + 1 rows spread over the least-squares error: a start near the end."""
    k = a.shape[1]
    rows: list[int] = []
    remainder = a.copy()
    for _ in range(k):  # pivoted elimination: rows that are independent for certain
        size = (remainder**2).sum(axis=1)
        pick = int(size.argmax())
        if size[pick] < _SINGULAR**2:
            return None
        rows.append(pick)
        direction = remainder[pick] / np.sqrt(size[pick])
        remainder = remainder - np.outer(remainder @ direction, direction)
    errors = np.abs(y - a @ np.linalg.solve(a[rows], y[rows]))
    errors[rows] = -1.0
    return np.array([*rows, int(errors.argmax())], dtype=np.intp)


def _by_linear_programme(a: Array, y: Array) -> Array:
    n, k = a.shape
    ones = np.ones((n, 1))
    solution = linprog(
        np.append(np.zeros(k), 1.0),
        A_ub=np.block([[a, -ones], [-a, -ones]]),
        b_ub=np.concatenate([y, -y]),
        bounds=[(None, None)] * k + [(0.0, None)],
        method="highs",
    )
    if solution.x is None:  # a plain minimum of absolute values always exists
        raise RuntimeError(solution.message)
    return np.asarray(solution.x[:k], dtype=np.float64)
