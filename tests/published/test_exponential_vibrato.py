"""Hum on an exponential control input raises the mean frequency by I0(a).

Source: B. A. Hutchins, J. Audio Eng. Soc. 23(3), April 1975 (the rule, from the abstract):
a = ln 2 times the peak volts at one volt per octave. Computed from it: 0.01 V peak +0.021 cent,
0.1 V +2.08 cents, 0.5 V +51.6 cents.
"""

from __future__ import annotations

import numpy as np
import pytest

from pitchwright.practice import Oscillator
from pitchwright.units import cents_between


@pytest.mark.parametrize(
    ("peak_v", "expected_cents", "digit"),
    [(0.01, 0.021, 0.0005), (0.1, 2.08, 0.005), (0.5, 51.6, 0.05)],
)
def test_mean_frequency(peak_v: float, expected_cents: float, digit: float) -> None:
    oscillator = Oscillator("Heron")
    one_period = 2.0 * np.pi * np.arange(4096) / 4096
    f_hz = oscillator.f_hz(3.0 + peak_v * np.sin(one_period))
    still_hz = float(oscillator.f_hz(np.array(3.0)))
    assert cents_between(float(f_hz.mean()), still_hz) == pytest.approx(expected_cents, abs=digit)
