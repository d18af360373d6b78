"""Linear equations whose unknowns may be undetermined, and saying which are.

Each equation is a sum of coefficients times unknowns, its value and its standard uncertainty. What
no equation tells is a subspace; a figure is known where it has no share in that subspace.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Equation", "Solution", "solve"]

Array = NDArray[np.float64]
Unknown = tuple[str, ...]

_NEGLIGIBLE = 1e-9


@dataclass(frozen=True, slots=True)
class Equation:
    """Σ coefficient · unknown = value ± u."""

    coefficients: Mapping[Unknown, float]
    value: float
    u: float


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """What the equations say.

    Attributes
    ----------
    unknowns
        In the order of the arrays.
    values
        Least-squares values, the undetermined share set to nothing; shape (p,).
    covariance
        Of the determined share, shape (p, p).
    hidden
        Orthonormal basis of what no equation tells, shape (p, q), in scaled unknowns.
    scale
        What unknowns were scaled by, shape (p,).
    """

    unknowns: tuple[Unknown, ...]
    values: Array
    covariance: Array
    hidden: Array
    scale: Array

    def figure(self, sum_of: Mapping[Unknown, float]) -> tuple[float, float] | None:
        """Value and standard uncertainty of a sum of unknowns; None where it is undetermined."""
        if any(name not in self.unknowns for name in sum_of):
            return None
        wanted = np.array([sum_of.get(name, 0.0) for name in self.unknowns])
        scaled = wanted * self.scale
        length = float(np.linalg.norm(scaled))
        if float(np.linalg.norm(scaled @ self.hidden)) > 1e-6 * length:
            return None
        variance = float(wanted @ self.covariance @ wanted)
        return float(wanted @ self.values), math.sqrt(max(variance, 0.0))


def solve(equations: Sequence[Equation]) -> Solution:
    """Solve by weighted least squares, keeping what cannot be told apart from what can."""
    unknowns = tuple(dict.fromkeys(name for eq in equations for name in eq.coefficients))
    column = {name: place for place, name in enumerate(unknowns)}
    matrix, values = np.zeros((len(equations), len(unknowns))), np.zeros(len(equations))
    for row, equation in enumerate(equations):
        for name, coefficient in equation.coefficients.items():
            matrix[row, column[name]] = coefficient / equation.u
        values[row] = equation.value / equation.u
    # Unknowns of very different size (a gain, cents) are brought to one before ranks are judged.
    # Rows too: a very sure equation beside a vague one must not pass for the only one there is.
    rows = np.linalg.norm(matrix, axis=1)
    scale = 1.0 / np.linalg.norm(matrix / rows[:, None], axis=0)
    _, size, turned = np.linalg.svd(matrix / rows[:, None] * scale, full_matrices=True)
    rank = int((size > _NEGLIGIBLE * size[0]).sum())
    seen, hidden = turned[:rank].T, turned[rank:].T
    # Within what is seen, the weighted equations are solved as they stand.
    inner = matrix * scale @ seen
    q, r = np.linalg.qr(inner)
    root = np.linalg.inv(r)
    back = scale[:, None] * (seen @ root)
    return Solution(
        unknowns=unknowns,
        values=back @ (q.T @ values),
        covariance=back @ back.T,
        hidden=hidden,
        scale=scale,
    )
