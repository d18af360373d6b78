from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitchwright.stability.exponentials import (
    averaged_decay,
    moves_ahead_cents,
    time_to_settle_s,
)

amplitudes = st.floats(-60.0, 60.0).filter(lambda cents: abs(cents) > 1e-3)


@given(
    amplitudes, amplitudes, st.floats(100.0, 3600.0), st.floats(1.05, 6.0), st.floats(0.0, 9000.0)
)
def test_the_greatest_move_is_that_of_a_fine_grid(
    a1: float, a2: float, tau1_s: float, ratio: float, at_s: float
) -> None:
    tau2_s = tau1_s * ratio
    ahead_s = np.linspace(0.0, 1800.0, 4001)
    path = a1 * np.exp(-(at_s + ahead_s) / tau1_s) + a2 * np.exp(-(at_s + ahead_s) / tau2_s)
    greatest = np.max(np.abs(path - path[0]))
    both, taus_s = np.array([[a1, a2]]), np.array([tau1_s, tau2_s])
    moves = moves_ahead_cents(both, taus_s[None], np.array([at_s]), 1800.0)
    found = np.max(np.abs(moves))
    # A turn between two of the moments is missed by a little of what either part moves.
    either = abs(a1) * np.exp(-at_s / tau1_s) + abs(a2) * np.exp(-at_s / tau2_s)
    assert greatest - 0.1 * either - 1e-9 <= found <= greatest + 1e-4 * either + 1e-9
    assert moves[0, -1, 0] == pytest.approx(path[-1] - path[0], abs=1e-9)
    # Time constants that all warm-ups share give the same.
    assert moves_ahead_cents(both, taus_s, np.array([at_s]), 1800.0) == pytest.approx(moves)


@given(st.floats(2.0, 60.0), st.floats(180.0, 2400.0))
def test_time_to_settle_of_one_exponential(amplitude: float, tau_s: float) -> None:
    """A exp(-t / tau) (1 - exp(-1800 / tau)) = 1 solved by hand."""
    ahead_s = np.concatenate([[0.0], np.geomspace(30.0, 43200.0, 90)])
    moves = moves_ahead_cents(np.array([[amplitude]]), np.array([tau_s]), ahead_s, 1800.0)
    by_hand_s = tau_s * np.log(amplitude * -np.expm1(-1800.0 / tau_s))
    found_s = time_to_settle_s(np.max(np.abs(moves), axis=1), ahead_s, 1.0)[0]
    assert found_s == pytest.approx(max(by_hand_s, 0.0), abs=1e-3)


def test_a_departure_that_comes_back_counts_to_the_last_time_it_is_outside() -> None:
    ahead_s = np.array([0.0, 10.0, 20.0, 30.0])
    departure = np.array([[0.5, 2.0, 0.5, 0.1], [0.5, 0.4, 0.3, 0.2], [3.0, 3.0, 3.0, 3.0]])
    settles_s = time_to_settle_s(departure, ahead_s, 1.0)
    assert settles_s[0] == pytest.approx(15.0)
    assert settles_s[1] == 0.0
    assert np.isinf(settles_s[2])


def test_mean_over_a_bin_is_the_mean_of_its_readings() -> None:
    t_s = np.array([0.0, 5.0, 11.0, 60.0, 64.0])
    decay = averaged_decay(t_s, np.array([0, 3]), np.array([3, 2]), np.array([180.0, 900.0]))
    assert decay.shape == (2, 2)
    assert decay[0, 0] == pytest.approx(np.mean(np.exp(-t_s[:3] / 180.0)))
    assert decay[1, 1] == pytest.approx(np.mean(np.exp(-t_s[3:] / 900.0)))
    # The middle of the bin is not good enough: off by more than 0.05 cent of 60.
    wide_s = np.arange(0.0, 60.0, 1.0)
    mean = averaged_decay(wide_s, np.array([0]), np.array([60]), np.array([180.0]))[0, 0]
    assert 60.0 * abs(mean - np.exp(-29.5 / 180.0)) > 0.05
