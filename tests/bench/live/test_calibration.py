"""The line through a voltmeter's readings, against numpy's own weighted fit."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitchwright.bench.live.calibration import Measured, fit_calibration
from pitchwright.errors import InputError

LEVELS = (0.0, 0.2, 0.4, 0.6, 0.8)


def read(*written: str) -> list[Measured]:
    return [Measured.read(level, text) for level, text in zip(LEVELS, written, strict=True)]


def test_it_is_numpy_s_weighted_line_with_numpy_s_covariance() -> None:
    measured = read("0.0021", "2.003", "4.0042", "6.007", "8.01")
    line = fit_calibration(measured)
    (slope, offset), covariance = np.polyfit(
        [one.level for one in measured],
        [one.read_v for one in measured],
        1,
        w=[1.0 / one.u_v for one in measured],
        cov="unscaled",
    )
    assert line.volts_per_unit == pytest.approx(slope, rel=1e-12)
    assert line.offset_v == pytest.approx(offset, abs=1e-12)
    assert line.covariance[1][1] == pytest.approx(covariance[0, 0], rel=1e-9)
    assert line.covariance[0][0] == pytest.approx(covariance[1, 1], rel=1e-9)
    assert line.covariance[0][1] == pytest.approx(covariance[0, 1], rel=1e-9)


@given(st.floats(-5.0, 5.0), st.floats(1.0, 12.0), st.floats(-2.0, 8.0))
def test_a_level_gives_the_voltage_that_was_asked_for(
    offset_v: float, volts_per_unit: float, wanted_v: float
) -> None:
    measured = [Measured(level, offset_v + volts_per_unit * level, 1e-4) for level in LEVELS]
    line = fit_calibration(measured)
    assert line.volts_of(line.level_of(wanted_v)) == pytest.approx(wanted_v, abs=1e-9)
    assert offset_v + volts_per_unit * line.level_of(wanted_v) == pytest.approx(wanted_v, abs=1e-6)


def test_a_voltmeter_s_gain_of_a_tenth_of_a_percent_is_1_2_cents_an_octave() -> None:
    line = fit_calibration(read("0.00000", "2.00000", "4.00000", "6.00000", "8.00000"), u_gain=1e-3)
    # A thousandth of an octave of 1200 cents.
    assert line.u_scale_cents_per_oct == pytest.approx(1.2, abs=0.01)
    assert line.u_v(8.0) == pytest.approx(0.008, abs=1e-4)
    assert "1.2 cents" not in line.sentence()
    assert "2.40 cents per octave" in line.sentence()


@pytest.mark.parametrize(
    ("written", "said"),
    [
        (("0.001", "2.003", "4.004", "6.007", "7.210"), "do not lie on a line"),
        (("0.001", "2.030", "4.004", "6.007", "8.010"), "2.03 V at level 0.2"),
        (("0.001", "0.002", "0.001", "0.002", "0.001"), "does not follow the level"),
    ],
)
def test_what_is_no_line_is_refused(written: tuple[str, ...], said: str) -> None:
    with pytest.raises(InputError) as refused:
        fit_calibration(read(*written))
    assert said in refused.value.sentence


def test_two_levels_are_no_calibration() -> None:
    with pytest.raises(InputError, match="3 different levels"):
        fit_calibration([Measured(level, 10 * level, 1e-3) for level in (0.0, 0.5, 0.5)])


def test_the_last_digit_says_how_exact_a_reading_is() -> None:
    assert Measured.read(0.1, "2,50 V") == Measured(0.1, 2.5, 0.01 / math.sqrt(3.0))
    assert Measured.read(0.1, "−1.234").read_v == -1.234
    for wrong in ("two", "", "nan", "230"):
        with pytest.raises(ValueError, match="not a voltage"):
            Measured.read(0.1, wrong)
