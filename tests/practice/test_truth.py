"""The model of the tracking room must come out of the parts, not be put into them."""

from __future__ import annotations

import numpy as np
import pytest

from pitchwright.practice import (
    Converter,
    Core,
    CvSource,
    Oscillator,
    Trimmer,
    TrimmerKind,
    true_model,
)
from pitchwright.units import cents_between, note_to_hz

RIGS = [
    Oscillator("Heron", base_error_cents=8.0, scale_error_cents_per_oct=7.0),
    Oscillator(
        "Wren",
        trimmers=(Trimmer.at(TrimmerKind.HIGH_END, 150.0, position_turns=8.0),),
        converter=Converter(bulk_ohm=1.0),
        core=Core(reset_s=1.4e-6, leakage_a=5e-12),
        pivot_v=3.5,
        base_error_cents=-14.0,
        scale_error_cents_per_oct=-12.0,
    ),
    Oscillator(
        "Dunlin",
        converter=Converter(tempco_per_k=0.0, bulk_ohm=2.0),
        core=Core(reset_s=1.9e-6, leakage_a=20e-12),
        scale_error_cents_per_oct=25.0,
    ),
]
SOURCE = CvSource("Stairs", gain_error=0.0007, offset_v=-0.001)


@pytest.mark.parametrize("oscillator", RIGS)
@pytest.mark.parametrize("source", [None, SOURCE])
def test_model_describes_the_curve(oscillator: Oscillator, source: CvSource | None) -> None:
    note = np.arange(12.0, 121.0, 4.0)
    sent_v = [source.cv_v(n) if source else (n - 24.0) / 12.0 for n in note]
    f_hz = oscillator.f_hz(np.array(sent_v), temperature_c=27.0)
    curve = cents_between(f_hz, note_to_hz(note))
    model = true_model(oscillator, source, temperature_c=27.0)
    middle_c_hz = f_hz[int(np.argmin(abs(note - 60.0)))]
    high = np.log2((1.0 - f_hz * model.high_ns * 1e-9) / (1.0 - middle_c_hz * model.high_ns * 1e-9))
    described = (
        model.base_cents
        + model.scale_cents_per_oct * (note - 60.0) / 12.0
        + 1200.0 * high
        + model.low_cents_hz * (1.0 / f_hz - 1.0 / middle_c_hz)
    )
    # Reset and bulk resistance are nearly, not wholly, alike: 0.15 cent over 8 octaves.
    inside = f_hz < 9000.0
    np.testing.assert_allclose(described[inside], curve[inside], atol=0.2)


@pytest.mark.parametrize("oscillator", RIGS)
def test_least_squares_finds_the_model(oscillator: Oscillator) -> None:
    note = np.arange(24.0, 121.0, 3.0)
    f_hz = oscillator.f_hz((note - 24.0) / 12.0)
    curve = cents_between(f_hz, note_to_hz(note))
    middle_c_hz = f_hz[int(np.argmin(abs(note - 60.0)))]
    columns = np.stack(
        [
            np.ones_like(note),
            (note - 60.0) / 12.0,
            -(f_hz - middle_c_hz) * 1.2e-6 / np.log(2.0),
            1.0 / f_hz - 1.0 / middle_c_hz,
        ],
        axis=1,
    )
    found = np.linalg.lstsq(columns, curve, rcond=None)[0]
    model = true_model(oscillator)
    assert found[0] == pytest.approx(model.base_cents, abs=0.15)
    assert found[1] == pytest.approx(model.scale_cents_per_oct, abs=0.15)
    assert found[2] == pytest.approx(model.high_ns, abs=40.0)
    assert found[3] == pytest.approx(model.low_cents_hz, abs=8.0)


def test_source_gain_and_offset_are_part_of_what_is_seen() -> None:
    model = true_model(Oscillator("Heron"), SOURCE)
    assert model.scale_cents_per_oct == pytest.approx(1200.0 * 0.0007)
    assert model.base_cents == pytest.approx(1200.0 * (3.0 * 0.0007 - 0.001))
    assert model.high_ns == 0.0
    assert model.low_cents_hz == 0.0
