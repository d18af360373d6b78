from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.stability import separate_drift, temperature_effect

Array = NDArray[np.float64]

T_S = np.arange(0.0, 3600.0, 5.0)
CV_V = np.where(np.arange(T_S.size) % 2 == 0, 1.0, 6.0)
NOISE = 0.03 * np.random.default_rng(11).standard_normal(T_S.size)


def test_base_that_drifts() -> None:
    split = separate_drift(T_S, 10.0 * T_S / 3600.0 + NOISE, CV_V)
    assert split.base_moved_cents == pytest.approx(9.0, abs=0.05)
    assert abs(split.scale_moved_cents_per_oct) < 3.0 * split.u_scale_moved_cents_per_oct
    assert split.sentence.startswith("The base moved by +8.9")


def test_scale_that_drifts() -> None:
    split = separate_drift(T_S, -2.0 * T_S / 3600.0 * (CV_V - 1.0) + NOISE, CV_V)
    assert split.scale_moved_cents_per_oct == pytest.approx(-1.8, abs=0.02)
    assert abs(split.base_moved_cents) < 3.0 * split.u_base_moved_cents
    assert split.sentence.startswith("The scale moved by −1.79")


def test_both_and_neither() -> None:
    both = separate_drift(T_S, T_S / 360.0 * CV_V + NOISE, CV_V)
    assert both.sentence.startswith("Both moved")
    neither = separate_drift(T_S, NOISE, CV_V)
    assert abs(neither.base_moved_cents) < 4.0 * neither.u_base_moved_cents
    assert "moved" in neither.sentence
    still = separate_drift(T_S, np.zeros(T_S.size), CV_V)
    assert still.sentence.startswith("Neither base")


def test_base_is_meant_at_the_reference() -> None:
    cents = T_S / 600.0 * (CV_V - 3.0)
    at_3_v = separate_drift(T_S, cents, CV_V, cv_ref_v=3.0)
    assert np.max(np.abs(at_3_v.base_cents)) < 0.02
    assert separate_drift(T_S, cents, CV_V).base_moved_cents == pytest.approx(-10.8, abs=0.05)


def test_stated_uncertainty_is_the_scatter_of_repeated_histories() -> None:
    splits = [
        separate_drift(T_S, 0.1 * np.random.default_rng(seed).standard_normal(T_S.size), CV_V)
        for seed in range(150)
    ]
    for moved, stated in (
        ("base_moved_cents", "u_base_moved_cents"),
        ("scale_moved_cents_per_oct", "u_scale_moved_cents_per_oct"),
    ):
        scatter = np.std([getattr(split, moved) for split in splits])
        assert scatter == pytest.approx(np.mean([getattr(s, stated) for s in splits]), rel=0.2)


def test_temperature_turns_a_converter_about_one_pitch() -> None:
    """1200 (298.15 / T - 1) cents per octave about 3 V: computed from kT/q, no compensation."""
    room_c = 25.0 + np.sin(2.0 * np.pi * T_S / 3000.0)
    cents = 1200.0 * (298.15 / (room_c + 273.15) - 1.0) * (CV_V - 3.0) + NOISE
    seen_c = room_c + 0.03 * np.random.default_rng(12).standard_normal(T_S.size)
    effect = temperature_effect(separate_drift(T_S, cents, CV_V), T_S, seen_c)
    assert effect.scale.per_k == pytest.approx(-4.0248, abs=0.05)
    assert effect.base.per_k == pytest.approx(2.0 * 4.0248, abs=0.25)
    assert effect.still_cv_v == pytest.approx(3.0, abs=0.05)


def test_no_still_pitch_without_an_effect_on_the_scale() -> None:
    room_c = 25.0 + np.sin(2.0 * np.pi * T_S / 3000.0)
    effect = temperature_effect(separate_drift(T_S, 2.0 * room_c + NOISE, CV_V), T_S, room_c)
    assert effect.base.per_k == pytest.approx(2.0, abs=0.05)
    assert math.isnan(effect.still_cv_v) or not effect.scale.known


def test_gaps_do_not_make_neighbours() -> None:
    cents = np.where((T_S > 1000.0) & (T_S < 2000.0), np.nan, NOISE)
    split = separate_drift(T_S, cents, CV_V)
    assert not np.any((split.t_s > 1010.0) & (split.t_s < 1990.0))


@pytest.mark.parametrize(
    ("t_s", "cv_v", "what"),
    [
        (T_S, np.ones(T_S.size), "here there are 1"),
        (T_S, np.arange(T_S.size) % 3.0, "here there are 3"),
        (T_S, np.where(T_S < 1800.0, 1.0, 6.0), "side by side"),
        (T_S[:0], CV_V[:0], "here there are 0"),
    ],
)
def test_what_cannot_be_told_apart(t_s: Array, cv_v: Array, what: str) -> None:
    with pytest.raises(InputError, match=what):
        separate_drift(t_s, np.zeros(t_s.size), cv_v)


def test_too_few_temperatures() -> None:
    split = separate_drift(T_S, NOISE, CV_V)
    with pytest.raises(InputError, match="too few temperatures"):
        temperature_effect(split, T_S, np.full(T_S.size, np.nan))
