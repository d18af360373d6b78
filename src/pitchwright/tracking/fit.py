"""Weighted least squares of readings that share what is wrong with their note.

Two readings of one note differ by reading noise only; both carry the note's own error (the
source's step, a bump of the converter), which a straight line cannot follow. So the covariance of
reading i at note g is u_i² + s² on the diagonal and a further τ² between readings of one note:

- u_i is stated with the reading;
- s, the scatter between visits to a note, is found from repeats, where they disagree more than
  their u allows;
- τ, the scatter of notes about the model, is found from the residuals (the moment estimate of
  R. C. Paule and J. Mandel, *J. Res. NBS* 87, 1982, from memory: the weighted sum of squares is
  made equal to its degrees of freedom).

With u = 0 this is ordinary least squares with the residual standard deviation; with residuals no
larger than u it is weighted least squares with known u; between the two it does not let one very
fine reading outvote its neighbours.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import minimize_scalar

__all__ = ["Fit", "NoteGroups", "fit", "minus_two_log_likelihood", "sensitivity"]

Array = NDArray[np.float64]

_MOST_STEPS = 60
_LEAST_U = 1e-9
"""Cents: a reading stated as exact still gets this, so that weights stay finite."""


@dataclass(frozen=True, slots=True, eq=False)
class NoteGroups:
    """Which readings belong to one note, and how sure each is.

    Attributes
    ----------
    group
        Index of each reading's note, 0 to ``count - 1``, shape (n,).
    variance
        u² + s² of each reading, shape (n,).
    weight
        Sum of 1 / variance over each note, shape (count,).
    """

    group: NDArray[np.intp]
    variance: Array
    weight: Array

    @classmethod
    def of(cls, note: ArrayLike, u: ArrayLike, visit_scatter: float = 0.0) -> NoteGroups:
        """Group readings by equal ``note``; ``u`` and ``visit_scatter`` in the values' unit."""
        _, group = np.unique(np.asarray(note, dtype=np.float64), return_inverse=True)
        spread = np.hypot(np.maximum(np.asarray(u, dtype=np.float64), _LEAST_U), visit_scatter)
        variance = spread**2
        return cls(group, variance, np.bincount(group, weights=1.0 / variance).astype(np.float64))

    @property
    def count(self) -> int:
        """How many distinct notes."""
        return len(self.weight)

    def split(self, rows: Array) -> tuple[Array, Array]:
        """Weighted mean of each note, shape (count, p), and whitened rests, shape (m, p).

        The rests are of notes read more than once; they do not depend on τ.
        """
        mean = np.zeros((self.count, rows.shape[1]))
        np.add.at(mean, self.group, rows / self.variance[:, None])
        mean /= self.weight[:, None]
        repeated = np.bincount(self.group)[self.group] > 1
        rest = (rows - mean[self.group])[repeated] / np.sqrt(self.variance[repeated])[:, None]
        return mean, rest


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Coefficients with what is known of them.

    Attributes
    ----------
    coefficients
        Shape (p,).
    covariance
        From reading noise, visit scatter and note scatter together, shape (p, p).
    reading_covariance
        The part that would remain if every note lay on the model, shape (p, p).
    residuals
        Values minus fit, shape (n,).
    note_scatter
        τ, in the unit of the values.
    dof
        Notes minus the coefficients that notes determine: how well τ is known.
    """

    coefficients: Array
    covariance: Array
    reading_covariance: Array
    residuals: Array
    note_scatter: float
    dof: int

    def u(self, direction: ArrayLike) -> float:
        """Standard uncertainty of a combination of the coefficients, ``direction`` shape (p,)."""
        d = np.asarray(direction, dtype=np.float64)
        return math.sqrt(max(float(d @ self.covariance @ d), 0.0))

    def effective_dof(self, direction: ArrayLike) -> float:
        """Degrees of freedom of that uncertainty (Welch-Satterthwaite, GUM equation G.2b)."""
        d = np.asarray(direction, dtype=np.float64)
        whole, known = float(d @ self.covariance @ d), float(d @ self.reading_covariance @ d)
        estimated = max(whole - known, 0.0)
        if self.dof < 1 or estimated <= 1e-12 * whole:
            return math.inf
        return self.dof * (whole / estimated) ** 2


def fit(
    columns: Array,
    values: Array,
    groups: NoteGroups,
    *,
    within: int = 0,
    least_scatter: float = 0.0,
) -> Fit:
    """Fit ``values ≈ columns @ coefficients`` by generalized least squares.

    Parameters
    ----------
    columns
        Shape (n, p).
    values
        Shape (n,).
    groups
        The readings' notes and variances.
    within
        How many of the coefficients repeats of a note determine (drift), not notes.
    least_scatter
        τ is taken to be at least this: to ask what notes could tell whose scatter happens to be
        small.

    Raises
    ------
    numpy.linalg.LinAlgError
        Where the readings cannot tell the columns apart.
    """
    dof = groups.count - (columns.shape[1] - within)
    mean, rest = groups.split(np.column_stack([columns, values]))
    tau = _moment_scatter(mean, rest, groups.weight, dof) if dof > 0 else 0.0
    tau = max(tau, least_scatter)
    coefficients, root = _solve(mean, rest, groups.weight, tau)
    covariance = root @ root.T
    reading = covariance
    if tau > 0.0:
        gain = covariance @ (mean[:, :-1] / (1.0 / groups.weight + tau**2)[:, None]).T
        reading = covariance - tau**2 * gain @ gain.T
    return Fit(
        coefficients=coefficients,
        covariance=covariance,
        reading_covariance=reading,
        residuals=values - columns @ coefficients,
        note_scatter=tau,
        dof=dof,
    )


def sensitivity(columns: Array, extra: Array, groups: NoteGroups, scatter: float) -> Array:
    """What the coefficients take up of one unit of a column that was left out, shape (p,)."""
    mean, rest = groups.split(np.column_stack([columns, extra]))
    return _solve(mean, rest, groups.weight, scatter)[0]


def minus_two_log_likelihood(columns: Array, values: Array, groups: NoteGroups) -> float:
    """Smallest -2 ln(likelihood) over coefficients and τ, without the constant."""
    mean, rest = groups.split(np.column_stack([columns, values]))
    reading = 1.0 / groups.weight

    def at(log_tau: float) -> float:
        tau = math.exp(log_tau)
        errors = _whitened(mean, rest, groups.weight, tau)
        x, _ = _least_squares(errors)
        left = errors[:, -1] - errors[:, :-1] @ x
        return float(left @ left + np.log(reading + tau**2).sum())

    size = float(np.abs(mean[:, -1] - mean[:, -1].mean()).max()) + 1e-6
    low, high = math.log(1e-3 * math.sqrt(float(reading.min()))), math.log(10.0 * size)
    if low >= high:
        return at(low)
    found = minimize_scalar(at, bounds=(low, high), method="bounded", options={"xatol": 1e-2})
    return min(float(found.fun), at(low))


def _moment_scatter(mean: Array, rest: Array, weight: Array, dof: int) -> float:
    """τ at which the weighted sum of squares between notes equals its degrees of freedom.

    Newton's method for 1 / (sum of squares) as a function of τ², which is nearly a straight line.
    """
    reading = 1.0 / weight
    square = 0.0
    for _ in range(_MOST_STEPS):
        x, _root = _solve(mean, rest, weight, math.sqrt(square))
        left = (mean[:, -1] - mean[:, :-1] @ x) ** 2 / (reading + square)
        total, slope = float(left.sum()), float((left / (reading + square)).sum())
        if square == 0.0 and total <= dof:
            return 0.0
        step = total * (total - dof) / (dof * slope)
        square = max(square + step, 0.0)
        if abs(step) <= 1e-11 * square:
            break
    return math.sqrt(square)


def _whitened(mean: Array, rest: Array, weight: Array, tau: float) -> Array:
    return np.vstack([mean / np.sqrt(1.0 / weight + tau**2)[:, None], rest])


def _solve(mean: Array, rest: Array, weight: Array, tau: float) -> tuple[Array, Array]:
    return _least_squares(_whitened(mean, rest, weight, tau))


def _least_squares(rows: Array) -> tuple[Array, Array]:
    """Solution of the last column on the others, and a root of the inverse normal matrix."""
    size = np.sqrt((rows[:, :-1] ** 2).sum(axis=0))
    if rows.shape[0] < rows.shape[1] - 1 or not size.all():
        raise np.linalg.LinAlgError("fewer readings than coefficients")
    r = np.asarray(np.linalg.qr(rows / np.append(size, 1.0), mode="r"), dtype=np.float64)
    square = r[:-1, :-1] if len(r) == rows.shape[1] else r[:, :-1]
    if np.abs(square.diagonal()).min() < 1e-9:
        raise np.linalg.LinAlgError("the readings cannot tell the columns apart")
    root = np.linalg.inv(square) / size[:, None]
    return root @ r[: len(square), -1], root
