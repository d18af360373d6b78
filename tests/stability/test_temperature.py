"""The temperature coefficient, among others against the physics of an exponential converter."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.stability import temperature_coefficient

Array = NDArray[np.float64]
MakeCents = Callable[..., Array]

# Source: computed from k = 1.380649e-23 J/K and q = 1.602176634e-19 C (exact in the SI since
# 2019): kelvin, and cents per octave after trimming at 298.15 K, without compensation and with a
# +3300 ppm/K resistor. The slope at 298.15 K is 1200 / T = 4.024820 cents per octave per kelvin.
CONVERTER = np.array(
    [
        (288.15, 41.644977, 0.670692),
        (293.15, 20.467338, 0.329626),
        (298.15, 0.0, 0.0),
        (303.15, -19.792182, -0.318753),
        (308.15, -38.942074, -0.627162),
    ]
)


@pytest.mark.parametrize(("column", "slope"), [(1, -4.024820), (2, -0.0649)])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_scale_of_a_converter_follows_1200_over_t(column: int, slope: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    t_s = np.arange(0.0, 7200.0, 10.0)
    room_c = 25.0 + 1.0 * np.sin(2.0 * np.pi * t_s / 3500.0)
    scale = np.interp(room_c + 273.15, CONVERTER[:, 0], CONVERTER[:, column])
    # Straight lines between the table's rows: exact slope from the neighbouring rows.
    table = (CONVERTER[3, column] - CONVERTER[1, column]) / 10.0
    assert table == pytest.approx(slope, rel=2e-3)
    found = temperature_coefficient(
        t_s,
        scale + 0.02 * rng.standard_normal(t_s.size),
        room_c + 0.03 * rng.standard_normal(t_s.size),
        unit="cents per octave",
    )
    assert found.per_k == pytest.approx(table, abs=3.0 * found.u_per_k + 0.005 * abs(table))
    assert found.u_per_k < 0.08
    assert (found.low_c, found.high_c) == pytest.approx((24.0, 26.0), abs=0.05)
    assert found.known
    assert "cents per octave (k = 2, seen from 24.0 to 26.0 °C)" in found.sentence


def test_late_followers_are_followed(warm_up: MakeCents) -> None:
    t_s = np.arange(0.0, 4.0 * 3600.0, 10.0)
    room_c = 21.0 + np.sign(np.sin(2.0 * np.pi * t_s / 5000.0)) * 0.5
    felt = np.empty_like(room_c)
    state = room_c[0]
    for i, now in enumerate(room_c):
        state += (now - state) * 10.0 / 350.0
        felt[i] = state
    found = temperature_coefficient(t_s, warm_up(t_s, (20.0, 900.0)) - 2.0 * felt, room_c)
    assert found.per_k == pytest.approx(-2.0, abs=0.1)
    assert 200.0 < found.lag_s < 500.0


def test_uncertainty_covers(warm_up: MakeCents) -> None:
    """Of twenty histories with wander, k = 2 should hold nearly all; three out would be many."""
    t_s = np.arange(0.0, 5400.0, 15.0)
    outside = 0
    for seed in range(20):
        rng = np.random.default_rng(seed)
        room_c = 21.0 + 0.7 * np.sin(2.0 * np.pi * (t_s / 3000.0 + rng.uniform()))
        cents = warm_up(t_s, (30.0, 900.0), wander_cents=0.1) + 1.5 * room_c
        found = temperature_coefficient(t_s, cents, room_c + 0.03 * rng.standard_normal(t_s.size))
        outside += abs(found.per_k - 1.5) > 2.0 * found.u_per_k
    assert outside <= 3


def test_no_effect_is_not_called_one(warm_up: MakeCents) -> None:
    t_s = np.arange(0.0, 3600.0, 10.0)
    room_c = 21.0 + 0.01 * np.sin(t_s / 500.0)
    found = temperature_coefficient(t_s, warm_up(t_s, (20.0, 600.0)), room_c)
    assert not found.known
    assert "no effect of temperature is seen" in found.sentence


def test_knowing_that_it_is_warm_helps(warm_up: MakeCents) -> None:
    t_s = np.arange(0.0, 3600.0, 10.0)
    room_c = 20.0 + 1.5 * np.exp(-t_s / 2000.0)
    cents = warm_up(t_s) + 2.0 * room_c
    warming = temperature_coefficient(t_s, cents, room_c)
    warm = temperature_coefficient(t_s, cents, room_c, warming=False)
    assert warm.u_per_k < 0.5 * warming.u_per_k
    assert warm.per_k == pytest.approx(2.0, abs=0.1)
    assert abs(warming.per_k - 2.0) < 3.0 * warming.u_per_k


def test_too_few_are_refused() -> None:
    with pytest.raises(InputError, match="Only 3 readings have both"):
        temperature_coefficient(np.arange(3.0), np.zeros(3), np.zeros(3))
