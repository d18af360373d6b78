"""Band-limited waveforms: the pitch is the phase track's own, and nothing folds back."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage, signal, special

from pitchwright.errors import InputError
from pitchwright.practice import Waveform, WaveformKind
from pitchwright.practice.waveforms import WaveTables
from pitchwright.units import cents_between

SHAPES = [
    Waveform(WaveformKind.SAW),
    Waveform(WaveformKind.SQUARE),
    Waveform(WaveformKind.PULSE, width=0.03),
    Waveform(WaveformKind.PULSE, width=0.37),
    Waveform(WaveformKind.TRIANGLE),
    Waveform(WaveformKind.SINE),
    Waveform(WaveformKind.FOLDED, fold=5.0),
    Waveform(WaveformKind.SUB_OCTAVE, sub_db=-6.0),
]
Samples = NDArray[np.float64]


def steady(waveform: Waveform, f_hz: float, rate_hz: float, length_s: float) -> Samples:
    tables = WaveTables(waveform, rate_hz)
    harmonics = int(tables.harmonics_for(np.array([f_hz]))[0])
    n = np.arange(round(length_s * rate_hz), dtype=np.float64)
    return tables.samples(0.2 + n * (f_hz / rate_hz), harmonics)


def measured_hz(samples: Samples, near_hz: float, rate_hz: float) -> float:
    """Frequency of the fundamental from the phase it gains between two halves.

    Independent of the project: scipy's window with side lobes below -92 dB, and a plain
    projection on a sine and a cosine at ``near_hz``.
    """
    half = samples.size // 2
    n = np.arange(half)
    window = signal.windows.blackmanharris(half)
    turning = np.exp(-2j * np.pi * near_hz / rate_hz * n) * window
    gained = np.angle(
        np.sum(samples[half : 2 * half] * turning)
        / np.sum(samples[:half] * turning)
        * np.exp(-2j * np.pi * near_hz / rate_hz * half)
    )
    return float(near_hz + gained / (2.0 * np.pi) * rate_hz / half)


@pytest.mark.parametrize("rate_hz", [22050.0, 48000.0, 96000.0, 192000.0])
@pytest.mark.parametrize("f_hz", [16.3516, 65.41, 440.07, 3520.9, 9000.3])
@pytest.mark.parametrize("waveform", SHAPES, ids=lambda w: f"{w.kind}-{w.width}")
def test_pitch_is_exact_to_a_thousandth_of_a_cent(
    waveform: Waveform, f_hz: float, rate_hz: float
) -> None:
    length_s = max(0.25, 60.0 / f_hz)
    samples = steady(waveform, f_hz, rate_hz, length_s)
    # 20 cents beside the truth, so that the check has something to find.
    found_hz = measured_hz(samples, f_hz * 2.0 ** (0.02 / 1200.0), rate_hz)
    assert abs(cents_between(found_hz, f_hz)) < 0.001


def test_the_check_would_see_two_thousandths_of_a_cent() -> None:
    f_hz = 16.3516
    samples = steady(SHAPES[0], f_hz * 2.0 ** (0.002 / 1200.0), 48000.0, 60.0 / f_hz)
    assert abs(cents_between(measured_hz(samples, f_hz, 48000.0), f_hz)) > 0.001


@pytest.mark.parametrize("f_hz", [733.7, 2637.02, 11900.0])
@pytest.mark.parametrize("waveform", SHAPES, ids=lambda w: f"{w.kind}-{w.width}")
def test_there_is_nothing_but_harmonics(waveform: Waveform, f_hz: float) -> None:
    """All harmonics fitted by least squares (numpy) leave less than -100 dB: no aliases."""
    rate_hz = 48000.0
    samples = steady(waveform, f_hz, rate_hz, 0.1)
    lowest_hz = f_hz / waveform.periods
    angle = 2.0 * np.pi * lowest_hz / rate_hz * np.arange(samples.size)
    orders = np.arange(1, int(0.5 * rate_hz / lowest_hz) + 1)
    fit = np.concatenate([np.cos(np.outer(orders, angle)), np.sin(np.outer(orders, angle))]).T
    left = samples - fit @ np.linalg.lstsq(fit, samples, rcond=None)[0]
    assert np.std(left) < 1e-5 * np.std(samples)


@pytest.mark.parametrize(
    ("waveform", "reference"),
    [
        (Waveform(WaveformKind.SAW), lambda p: signal.sawtooth(p + np.pi)),
        (Waveform(WaveformKind.SQUARE), lambda p: signal.square(p)),
        (Waveform(WaveformKind.PULSE, width=0.2), lambda p: (signal.square(p, 0.2) + 0.6) / 1.6),
        (Waveform(WaveformKind.TRIANGLE), lambda p: signal.sawtooth(p + np.pi, 0.5)),
        (Waveform(WaveformKind.SINE), np.sin),
        (Waveform(WaveformKind.FOLDED, fold=4.0), lambda p: np.sin(4.0 * np.sin(p))),
    ],
    ids=lambda value: str(value.kind) if isinstance(value, Waveform) else "",
)
def test_shape_against_scipy(waveform: Waveform, reference: object) -> None:
    phase = np.arange(2000) / 2000.0 + 0.00025
    ours = WaveTables(waveform, 48000.0).samples(phase, 2000)
    assert callable(reference)
    theirs = reference(2.0 * np.pi * phase)
    # The ripple of a summed series at its jumps aside, 40 samples either way.
    jumps = np.abs(theirs - np.roll(theirs, 1)) > 0.05
    near = ndimage.maximum_filter1d(jumps.astype(np.int8), 81, mode="wrap") > 0
    away = (
        ~near if waveform.kind is not WaveformKind.FOLDED else np.full(phase.size, fill_value=True)
    )
    assert away.sum() > 1500
    np.testing.assert_allclose(ours[away], theirs[away], atol=0.01)


def test_sub_octave_level() -> None:
    """The half-frequency component against the saw's fundamental, as asked for."""
    waveform = Waveform(WaveformKind.SUB_OCTAVE, sub_db=-12.0)
    amplitudes = np.abs(waveform.harmonics(2))
    square_to_saw = 4.0 / 2.0  # fundamental of a square against that of a saw of the same height
    assert amplitudes[0] / amplitudes[1] == pytest.approx(square_to_saw * 10.0 ** (-12.0 / 20.0))


def test_folded_harmonics_are_bessel_functions() -> None:
    amplitudes = np.abs(Waveform(WaveformKind.FOLDED, fold=3.0).harmonics(5))
    np.testing.assert_allclose(
        amplitudes, 2.0 * np.abs(special.jv([1, 0, 3, 0, 5], 3.0)) * [1, 0, 1, 0, 1]
    )


def test_harmonics_end_below_half_the_rate_and_waste_little() -> None:
    f_hz = np.geomspace(8.0, 20000.0, 500)
    count = WaveTables(SHAPES[0], 44100.0).harmonics_for(f_hz)
    assert np.all(count * f_hz < 22050.0)
    assert np.all((count + 1) * f_hz * 2.0 ** (1.0 / 8.0) > 0.45 * 44100.0)


def test_above_half_the_rate_there_is_silence() -> None:
    tables = WaveTables(SHAPES[0], 22050.0)
    assert tables.harmonics_for(np.array([10500.0, 11025.0, 12543.0])).tolist() == [1, 0, 0]
    assert not tables.samples(np.linspace(0.0, 9.0, 50), 0).any()


@pytest.mark.parametrize("setting", [{"width": 0.0}, {"width": 1.0}, {"fold": 0.0}, {"fold": 99.0}])
def test_impossible_settings_are_sentences(setting: dict[str, float]) -> None:
    with pytest.raises(InputError):
        Waveform(WaveformKind.PULSE, **setting)
