from __future__ import annotations

import numpy as np
import pytest

from pitchwright.stability.bins import gather
from pitchwright.stability.noises import Noises
from pitchwright.stability.thermometer import room_of

T_S = np.arange(0.0, 3600.0, 10.0)


def test_whitened_columns_have_the_products_of_the_inverse_covariance() -> None:
    bins = gather(T_S)
    noises = Noises(bins, 0.05, None)
    columns = np.stack([np.ones(bins.first.size), bins.middle_s], axis=1)
    white = noises.whitened(columns)
    assert white.shape == (50, bins.first.size, 2)
    # The model of least flicker and of nothing else is the readings' own noise and little more.
    quiet = np.sum(white[0, :, 0] ** 2)
    assert 0.5 * T_S.size / 0.05**2 < quiet * 40.0
    assert quiet < T_S.size / 0.05**2
    # The more it wanders, the less a mean is known.
    assert np.all(np.diff(np.sum(white[::5, :, 0] ** 2, axis=1)) < 0.0)


def test_a_room_that_is_not_well_known_counts_by_what_a_kelvin_does() -> None:
    bins = gather(T_S)
    rng = np.random.default_rng(5)
    room = room_of(T_S, 21.0 + 0.03 * rng.standard_normal(T_S.size))
    noises = Noises(bins, 0.05, room)
    column = np.ones((bins.first.size, 1))
    before = np.sum(noises.whitened(column)[:3] ** 2, axis=1)
    kept = np.arange(40) < 3
    noises.narrow(kept, 13.0**2)
    after = np.sum(noises.whitened(column) ** 2, axis=1)
    assert after.shape == (3, 1)
    assert np.all(after < before)
    assert after[0, 0] < 0.6 * before[0, 0]  # where nothing else is supposed it counts most


def test_levels_are_those_of_the_models_that_hold_the_weight() -> None:
    noises = Noises(gather(T_S), 0.05, None)
    weight = np.zeros(50)
    weight[5 * 4 + 2] = 1.0
    flicker, slow, walk = noises.levels(weight)
    assert flicker.cents == pytest.approx(0.008 * 1.7**4, rel=0.01)
    assert (slow.cents, slow.u_cents) == (1.0, 0.0)
    assert walk.cents == 0.0
    weight[5 * 4 + 1] = weight[5 * 3 + 2] = weight[5 * 5 + 2] = 0.3
    flicker, slow, _ = noises.levels(weight)
    assert flicker.cents == pytest.approx(0.008 * 1.7**4, rel=0.05)
    assert 0.0 < flicker.u_cents < flicker.cents
    assert 0.8 < slow.cents < 1.0
    assert 0.1 < slow.u_cents < 0.3
