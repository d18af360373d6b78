"""Flattening by a fixed reset time, and the resistor that cancels it.

Source of the numbers: -1200 log2(1 + f0·tr) cents, physics of a ramp that loses a fixed time in
each period, computed by other hands than this project's code (f0 is the pitch without reset).
The resistor R = tr/C in series with the capacitor: S. Franco, *Design with Operational Amplifiers
and Analog Integrated Circuits*, as credited in a public mailing-list post (M. Danielson, 2001);
page not known.
"""

from __future__ import annotations

import numpy as np
import pytest

from pitchwright.practice import Core, Oscillator
from pitchwright.units import cents_between

TABLE = [
    (32.70319566, -0.0113, -0.0566, -0.1132),
    (261.6255653, -0.0906, -0.4529, -0.9056),
    (1046.502261, -0.3623, -1.8108, -3.6197),
    (2093.004522, -0.7245, -3.6197, -7.2318),
    (4186.009045, -1.4488, -7.2318, -14.4336),
    (8372.01809, -2.8964, -14.4336, -28.7478),
    (16744.03618, -5.7879, -28.7478, -57.0261),
]


@pytest.mark.parametrize(("f0_hz", "us_0_2", "us_1", "us_2"), TABLE)
def test_flattening(f0_hz: float, us_0_2: float, us_1: float, us_2: float) -> None:
    cv_v = np.log2(np.array([f0_hz]) / 32.70319566)
    ideal_hz = Oscillator("Heron").f_hz(cv_v)
    assert float(ideal_hz[0]) == pytest.approx(f0_hz, rel=1e-8)
    for reset_s, expected in ((0.2e-6, us_0_2), (1e-6, us_1), (2e-6, us_2)):
        f_hz = Oscillator("Heron", core=Core(reset_s=reset_s)).f_hz(cv_v)
        assert cents_between(float(f_hz[0]), f0_hz) == pytest.approx(expected, abs=6e-5)


def test_a_series_resistor_of_the_same_time_cancels_it() -> None:
    cv_v = np.linspace(-1.0, 9.0, 21)
    core = Core(reset_s=1.3e-6)
    cancelled = Oscillator("Heron", core=core, compensation_ns=1300.0).f_hz(cv_v)
    np.testing.assert_allclose(cancelled, Oscillator("Heron").f_hz(cv_v), rtol=1e-12)
