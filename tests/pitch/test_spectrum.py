import numpy as np
import pytest

from pitchwright.pitch.spectrum import middle_of, spectrum_of

RATE_HZ = 48_000.0


@pytest.mark.parametrize("f_hz", [1000.0, 1000.7, 1001.3, 12_345.6])
def test_a_lone_line_is_found_between_the_bins(f_hz: float) -> None:
    x = np.sin(2 * np.pi * f_hz * np.arange(24_000) / RATE_HZ)
    peak = spectrum_of(x, RATE_HZ).peaks(1)[0]
    assert peak.f_hz == pytest.approx(f_hz, abs=0.002)


def test_the_floor_is_the_noise_between_the_lines() -> None:
    x = 0.1 * np.random.default_rng(14).standard_normal(24_000)
    x += np.sin(2 * np.pi * 1000.0 * np.arange(24_000) / RATE_HZ)
    assert spectrum_of(x, RATE_HZ).noise_variance == pytest.approx(0.01, rel=0.1)


def test_the_middle_is_taken() -> None:
    x = np.arange(1000.0)
    part = middle_of(x, 100)
    assert len(part) <= 100
    assert part.mean() == pytest.approx(x.mean(), abs=1.0)
