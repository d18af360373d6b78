from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from pitchwright.stability.bins import gather
from pitchwright.stability.thermometer import Room, follow_late, room_of

T_S = np.arange(0.0, 7200.0, 5.0)


def path_c(room: Room, t_s: NDArray[np.float64] = T_S) -> NDArray[np.float64]:
    return room.felt_c(t_s, 0.0)


def test_noise_of_a_cheap_thermometer_is_told_from_the_room(rng: np.random.Generator) -> None:
    truth_c = 21.0 + np.sin(2.0 * np.pi * T_S / 4000.0)
    room = room_of(T_S, truth_c + 0.03 * rng.standard_normal(T_S.size))
    off_c = path_c(room) - truth_c
    assert np.std(off_c[60:-60]) < 0.008
    assert np.max(np.abs(off_c)) < 0.04


def test_what_is_not_known_of_the_room_is_said(rng: np.random.Generator) -> None:
    """As often off by more than two deviations as it should be, over forty rooms."""
    middle_s = gather(T_S).middle_s
    off = []
    for _ in range(40):
        period_s, phase = rng.uniform(2400.0, 9000.0), rng.uniform(0.0, 6.3)

        def swing_c(t_s: NDArray[np.float64]) -> NDArray[np.float64]:
            return 0.5 * np.sin(2.0 * np.pi * t_s / period_s + phase)  # noqa: B023

        room = room_of(T_S, 21.0 + swing_c(T_S) + 0.03 * rng.standard_normal(T_S.size))
        u_k = np.sqrt(np.diag(room.covariance_k2))
        off.append((path_c(room, middle_s) - 21.0 - swing_c(middle_s)) / u_k)
    assert 0.9 < np.mean(np.abs(off) < 2.0) <= 1.0
    assert 0.4 < np.sqrt(np.mean(np.square(off))) < 1.3


def test_gaps_are_bridged_and_uncertain() -> None:
    temperature_c = 21.0 + T_S / 3600.0
    temperature_c[300:700] = np.nan
    room = room_of(T_S, temperature_c)
    assert path_c(room)[500] == pytest.approx(21.0 + T_S[500] / 3600.0, abs=0.1)
    bins = gather(T_S)
    inside = np.abs(bins.middle_s - T_S[500]).argmin()
    assert room.covariance_k2[inside, inside] > 10.0 * room.covariance_k2[5, 5]


def test_a_thermometer_that_rounds_is_known_no_better_than_it_rounds() -> None:
    truth_c = 21.0 + 0.3 * np.sin(2.0 * np.pi * T_S / 5000.0)
    room = room_of(T_S, np.round(truth_c, 1))
    assert np.max(np.abs(path_c(room) - truth_c)) < 0.06
    assert np.sqrt(np.median(np.diag(room.covariance_k2))) > 0.005


def test_one_reading_is_a_room_that_may_do_anything() -> None:
    room = room_of(T_S, np.where(T_S == 0.0, 21.0, np.nan))
    assert path_c(room) == pytest.approx(21.0, abs=0.01)
    assert room.covariance_k2[-1, -1] > 1e-3


def test_following_late_is_first_order() -> None:
    step_c = np.where(T_S < 600.0, 20.0, 21.0)
    felt_c = follow_late(T_S, step_c, 300.0)
    at = np.searchsorted(T_S, 600.0 + 300.0)
    assert felt_c[at] == pytest.approx(20.0 + 1.0 - np.exp(-1.0), abs=0.05)
    assert felt_c[-1] == pytest.approx(21.0, abs=1e-3)
    assert follow_late(T_S, step_c, 0.0) is step_c
