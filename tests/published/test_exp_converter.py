"""Exponential converter: kT/q, volts per octave, and what temperature does to scale.

Source: computed from k = 1.380649e-23 J/K and q = 1.602176634e-19 C, exact in the SI since 2019
(CODATA), by other hands than this project's code. Columns: kelvin, kT/q in mV, mV per octave,
cents per octave per kelvin without compensation (1200/T), cents per octave after trimming at
298.15 K without and with a +3300 ppm/K resistor.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from pitchwright.practice import Converter, Oscillator
from pitchwright.practice.converter import thermal_voltage_v
from pitchwright.units import CENTS_PER_OCTAVE, cents_between

TABLE = [
    (273.15, 23.538246, 16.315469, 4.393191, 109.829764, 1.768808),
    (283.15, 24.399979, 16.912777, 4.238036, 63.570546, 1.023804),
    (288.15, 24.830846, 17.211431, 4.164498, 41.644977, 0.670692),
    (293.15, 25.261712, 17.510085, 4.093468, 20.467338, 0.329626),
    (298.15, 25.692579, 17.808739, 4.024820, 0.000000, 0.000000),
    (300.0, 25.852000, 17.919241, 4.000000, -7.400000, -0.119177),
    (303.15, 26.123446, 18.107393, 3.958436, -19.792182, -0.318753),
    (308.15, 26.554312, 18.406047, 3.894207, -38.942074, -0.627162),
    (313.15, 26.985179, 18.704701, 3.832029, -57.480441, -0.925722),
    (323.15, 27.846912, 19.302009, 3.713446, -92.836144, -1.495126),
]
COLUMNS = ("kelvin", "mv", "mv_per_octave", "cents_per_k", "bare", "with_resistor")


@pytest.mark.parametrize(COLUMNS, TABLE)
def test_thermal_voltage(
    kelvin: float,
    mv: float,
    mv_per_octave: float,
    cents_per_k: float,
    bare: float,
    with_resistor: float,
) -> None:
    ours = float(thermal_voltage_v(kelvin - 273.15))
    assert ours * 1e3 == pytest.approx(mv, abs=1e-6)
    assert ours * 1e3 * math.log(2.0) == pytest.approx(mv_per_octave, abs=1e-6)


@pytest.mark.parametrize(COLUMNS, TABLE)
def test_scale_follows_temperature_in_the_whole_oscillator(
    kelvin: float,
    mv: float,
    mv_per_octave: float,
    cents_per_k: float,
    bare: float,
    with_resistor: float,
) -> None:
    for tempco, expected in ((0.0, bare), (3300e-6, with_resistor)):
        oscillator = Oscillator("Heron", converter=Converter(tempco_per_k=tempco))
        f_hz = oscillator.f_hz(np.array([2.0, 3.0]), temperature_c=kelvin - 273.15)
        scale = cents_between(float(f_hz[1]), float(f_hz[0])) - CENTS_PER_OCTAVE
        assert scale == pytest.approx(expected, abs=2e-6)


@pytest.mark.parametrize(COLUMNS, TABLE)
def test_sensitivity_per_kelvin(
    kelvin: float,
    mv: float,
    mv_per_octave: float,
    cents_per_k: float,
    bare: float,
    with_resistor: float,
) -> None:
    converter = Converter(tempco_per_k=0.0, trimmed_at_c=kelvin - 273.15)
    oscillator = Oscillator("Heron", converter=converter)
    scale = []
    for step_k in (-0.01, 0.01):
        f_hz = oscillator.f_hz(np.array([2.0, 3.0]), temperature_c=kelvin - 273.15 + step_k)
        scale.append(cents_between(float(f_hz[1]), float(f_hz[0])))
    assert (scale[0] - scale[1]) / 0.02 == pytest.approx(cents_per_k, abs=1e-5)


def test_temperature_turns_the_scale_about_the_reference_current() -> None:
    """The error is zero at the pitch of the reference current, opposite above and below.

    Source: as above; follows from the converter's equation.
    """
    oscillator = Oscillator("Heron", converter=Converter(tempco_per_k=0.0))
    at_reference_v = -float(oscillator.octaves(np.array(0.0)))
    cv_v = at_reference_v + np.array([-1.0, 0.0, 1.0])
    cents = cents_between(oscillator.f_hz(cv_v, temperature_c=35.0), oscillator.f_hz(cv_v))
    np.testing.assert_allclose(cents, [38.942074, 0.0, -38.942074], atol=2e-6)


def test_bulk_resistance_at_the_top() -> None:
    """1 ohm at 100 microampere, 25 °C: -6.74 cents. Source: -(1200/ln 2) I R/(kT/q), physics."""
    ideal = Converter()
    octaves = np.array([math.log2(100e-6 / ideal.reference_a)])
    bulk = replace(ideal, bulk_ohm=1.0).current_a(octaves, 25.0)
    cents = cents_between(float(bulk[0]), float(ideal.current_a(octaves, 25.0)[0]))
    # The published figure takes the current as it flows, which the drop has already lowered.
    assert cents * (100e-6 / float(bulk[0])) == pytest.approx(-6.74, abs=0.005)
