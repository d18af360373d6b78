import numpy as np
import pytest
from scipy import signal

from pitchwright.pitch.noise import noise_about_harmonics, noise_at_a_line

RATE_HZ = 48_000.0


def test_white_noise_shows_its_variance_everywhere() -> None:
    x = 0.2 * np.random.default_rng(11).standard_normal(48_000)
    noise = noise_about_harmonics(x, RATE_HZ, 100.0, 200)
    assert np.mean(noise[1:]) == pytest.approx(0.04, rel=0.1)


def test_a_line_beside_one_harmonic_is_noise_to_that_one_only() -> None:
    t_s = np.arange(48_000) / RATE_HZ
    x = 0.01 * np.random.default_rng(12).standard_normal(48_000)
    noise = noise_about_harmonics(x + 0.1 * np.sin(2 * np.pi * 505.0 * t_s), RATE_HZ, 100.0, 200)
    assert noise[5] > 100 * np.median(noise)
    assert noise[50] < 3 * np.median(noise)


def test_noise_hidden_under_a_line_is_inferred_from_its_flanks() -> None:
    b, a = signal.iirpeak(2 * 480.0 / RATE_HZ, 30.0)
    ratios = []
    for seed in range(20):
        x = np.random.default_rng(seed).standard_normal(72_000)
        x = signal.lfilter(b, a, x)[24_000:]
        ratios.append(noise_at_a_line(x, RATE_HZ, 480.0, 480.0))
    # At its peak the resonance passes white noise of variance one as it is.
    # A peak narrower than the hidden bins cannot be excluded, so it errs upwards, not downwards.
    assert 0.6 < np.quantile(ratios, 0.1) < 1.2
    assert 0.8 < np.median(ratios) < 3.0
