"""Least squares with errors that readings of one note share."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from pitchwright.tracking.fit import NoteGroups, fit, minus_two_log_likelihood, sensitivity

Array = NDArray[np.float64]


def dense(note: Array, u: Array, tau: float) -> Array:
    """The same covariance written out as a matrix."""
    shared = note[:, None] == note[None, :]
    return np.asarray(np.diag(u**2) + tau**2 * shared, dtype=np.float64)


@given(seed=st.integers(0, 2**32 - 1))
def test_it_is_generalized_least_squares_written_out(seed: int) -> None:
    rng = np.random.default_rng(seed)
    note = rng.integers(0, 8, size=20).astype(float)
    u = rng.uniform(0.05, 0.5, size=20)
    a = np.column_stack([np.ones(20), note, rng.normal(size=20)])
    y = a @ [1.0, 2.0, 3.0] + rng.normal(size=8)[note.astype(int)] + u * rng.normal(size=20)
    fitted = fit(a, y, NoteGroups.of(note, u), within=1)
    inverse = np.linalg.inv(dense(note, u, fitted.note_scatter))
    covariance = np.linalg.inv(a.T @ inverse @ a)
    np.testing.assert_allclose(fitted.covariance, covariance, rtol=1e-6, atol=1e-12)
    np.testing.assert_allclose(
        fitted.coefficients, covariance @ a.T @ inverse @ y, rtol=1e-6, atol=1e-9
    )


def test_likelihood_is_that_of_the_covariance_written_out() -> None:
    rng = np.random.default_rng(4)
    note = np.repeat(np.arange(7.0), 2)
    u = np.full(14, 0.1)
    a = np.column_stack([np.ones(14), note])
    y = rng.normal(size=7)[note.astype(int)] + u * rng.normal(size=14)

    def written_out(columns: Array, tau: float) -> float:
        v = dense(note, u, tau)
        inverse = np.linalg.inv(v)
        left = y - columns @ np.linalg.solve(columns.T @ inverse @ columns, columns.T @ inverse @ y)
        return float(left @ inverse @ left + np.linalg.slogdet(v)[1])

    def smallest(columns: Array) -> float:
        return min(written_out(columns, tau) for tau in np.geomspace(1e-4, 10.0, 500))

    # The part that depends neither on τ nor on the model is left out: compare two models.
    groups = NoteGroups.of(note, u)
    ours = minus_two_log_likelihood(a, y, groups) - minus_two_log_likelihood(a[:, :1], y, groups)
    assert ours == pytest.approx(smallest(a) - smallest(a[:, :1]), abs=1e-3)


def test_scatter_larger_than_stated_is_seen_and_widens() -> None:
    x = np.arange(30.0)
    a = np.column_stack([np.ones(30), x])
    wave = np.where(np.arange(30) % 2, 1.0, -1.0)
    calm = fit(a, 0.1 * wave, NoteGroups.of(x, np.full(30, 0.1)))
    rough = fit(a, 3.0 * wave, NoteGroups.of(x, np.full(30, 0.1)))
    assert calm.note_scatter < 0.05
    assert rough.note_scatter == pytest.approx(3.0, rel=0.05)
    assert rough.u([0.0, 1.0]) > 15.0 * calm.u([0.0, 1.0])
    assert rough.effective_dof([0.0, 1.0]) == pytest.approx(28.0, rel=0.01)


def test_what_a_column_left_out_would_do() -> None:
    x = np.arange(5.0)
    a = np.column_stack([np.ones(5), x])
    taken = sensitivity(a, 2.0 + 3.0 * x, NoteGroups.of(x, np.ones(5)), 0.0)
    assert taken == pytest.approx([2.0, 3.0])


def test_columns_that_readings_cannot_tell_apart_are_refused() -> None:
    a = np.ones((4, 2))
    with pytest.raises(np.linalg.LinAlgError, match="apart"):
        fit(a, np.arange(4.0), NoteGroups.of(np.arange(4.0), np.ones(4)))
