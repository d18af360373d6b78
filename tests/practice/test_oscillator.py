"""The whole chain: what trimmers, pivot, temperature and time do to the curve."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.practice import Converter, Core, Oscillator, Trimmer, TrimmerKind, WarmUp
from pitchwright.units import cents_between, note_to_hz

CV_V = np.arange(-1.0, 8.5, 0.5)
NOMINAL_HZ = note_to_hz(24.0 + 12.0 * CV_V)


def error_cents(oscillator: Oscillator, t_s: float = 0.0) -> NDArray[np.float64]:
    return cents_between(oscillator.f_hz(CV_V, t_s), NOMINAL_HZ)


def with_all_trimmers(pivot_v: float = 0.0, *, ahead: bool = False) -> Oscillator:
    return Oscillator(
        "Heron",
        trimmers=(
            Trimmer.at(TrimmerKind.BASE_COARSE, 100.0, ahead_of_scale=ahead),
            Trimmer.at(TrimmerKind.BASE_FINE, 10.0),
            Trimmer.at(TrimmerKind.SCALE, 4.0),
            Trimmer.at(TrimmerKind.HIGH_END, 150.0),
            Trimmer.at(TrimmerKind.OUTPUT, 3.0),
        ),
        pivot_v=pivot_v,
    )


def test_without_faults_it_is_in_tune() -> None:
    np.testing.assert_allclose(error_cents(with_all_trimmers(2.7)), 0.0, atol=1e-9)


def test_base_moves_every_note_alike() -> None:
    turned = with_all_trimmers().turned("base fine", 2.0)
    expected = turned.trimmer("base fine").effect
    np.testing.assert_allclose(error_cents(turned), expected, atol=1e-9)


@given(st.floats(-1.0, 8.0), st.floats(-3.0, 3.0))
def test_scale_turns_the_curve_about_its_pivot(pivot_v: float, turns: float) -> None:
    turned = with_all_trimmers(pivot_v).turned(TrimmerKind.SCALE, turns)
    effect = turned.trimmer(TrimmerKind.SCALE).effect
    np.testing.assert_allclose(error_cents(turned), effect * (CV_V - pivot_v), atol=1e-8)


def test_output_turns_the_curve_about_0_v() -> None:
    turned = with_all_trimmers(3.0).turned("output", 1.5)
    assert turned.pivot_now_v("output") == 0.0
    np.testing.assert_allclose(
        error_cents(turned), turned.trimmer("output").effect * CV_V, atol=1e-8
    )


def test_coarse_tuning_ahead_moves_the_pivots_voltage_but_not_its_pitch() -> None:
    before = with_all_trimmers(3.0, ahead=True)
    after = before.turned("base coarse", 4.0)
    pivots_v = [oscillator.pivot_now_v("scale") for oscillator in (before, after)]
    assert pivots_v[1] - pivots_v[0] < -0.3
    pivot_hz = [
        float(oscillator.f_hz(np.array(pivot_v)))
        for oscillator, pivot_v in zip((before, after), pivots_v, strict=True)
    ]
    assert pivot_hz[0] == pytest.approx(pivot_hz[1], rel=1e-12)
    still_hz = float(after.turned("scale", 2.0).f_hz(np.array(pivots_v[1])))
    assert still_hz == pytest.approx(pivot_hz[1], rel=1e-12)


def test_base_and_high_end_have_no_pivot() -> None:
    assert math.isnan(with_all_trimmers().pivot_now_v("base fine"))
    assert math.isnan(with_all_trimmers().pivot_now_v("high end"))


def test_high_end_lifts_the_top_and_leaves_the_bottom() -> None:
    lift = error_cents(with_all_trimmers().turned("high end", 2.0))
    assert abs(lift[0]) < 0.01
    assert lift[-1] == pytest.approx(-1200.0 * math.log2(1.0 - NOMINAL_HZ[-1] * 3.05e-7), abs=0.2)
    assert np.all(np.diff(lift) > 0.0)


def test_droop_of_two_microseconds_is_a_few_cents_per_kilohertz() -> None:
    """Source: common practice, 2 to 6 cents per kilohertz."""
    droopy = Oscillator("Dunlin", converter=Converter(bulk_ohm=2.0), core=Core(reset_s=1.9e-6))
    at_1_khz = cents_between(float(droopy.f_hz(np.log2(np.array(1000.0 / 32.7032)))), 1000.0)
    assert -6.0 < at_1_khz < -2.0


def test_leakage_flattens_the_bottom_in_proportion_to_the_period() -> None:
    low = error_cents(Oscillator("Dunlin", core=Core(leakage_a=20e-12)))
    np.testing.assert_allclose(low * NOMINAL_HZ, low[0] * NOMINAL_HZ[0], rtol=0.002)
    assert low[0] < -0.3


def test_warm_up_and_drift() -> None:
    cold = Oscillator(
        "Wren",
        warmup=WarmUp((5.0, 2.0), (100.0, 900.0), on_for_s=0.0),
        base_cents_per_k=1.5,
        drift_cents_per_min=0.3,
    )
    middle_c = int(np.argmin(abs(CV_V - 3.0)))
    # At the reference current only the base moves; at other notes the converter's rest adds.
    start, later = error_cents(cold, 0.0)[middle_c], error_cents(cold, 5400.0)[middle_c]
    assert start == pytest.approx(-7.0 * 1.5, abs=1.5)
    assert later == pytest.approx(90.0 * 0.3, abs=0.05)


def test_a_trimmer_it_has_not_is_a_sentence() -> None:
    with pytest.raises(InputError, match=r"Plover: It has no scale trimmer. It has: base fine"):
        Oscillator("Plover", (Trimmer.at(TrimmerKind.BASE_FINE, 9.0),)).turned("scale", 1.0)
    with pytest.raises(InputError, match="It has: none at all"):
        Oscillator("Plover").trimmer("scale")
