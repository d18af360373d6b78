import numpy as np
import pytest

from pitchwright.pitch.climb import climb
from pitchwright.pitch.spectrum import middle_of, spectrum_of
from pitchwright.units import ratio_of_cents

RATE_HZ = 48_000.0


@pytest.mark.parametrize("off_hz", [-0.3, 0.02, 0.3])
def test_it_climbs_to_the_frequency_from_a_fraction_of_a_bin_off(off_hz: float) -> None:
    t_s = np.arange(96_000) / RATE_HZ
    x = np.zeros_like(t_s)
    for k in range(1, 100):
        x += np.sin(2 * np.pi * k * 220.0 * t_s) / k
    x += 0.01 * np.random.default_rng(13).standard_normal(len(x))
    spectrum = spectrum_of(middle_of(x, 24_000), RATE_HZ)
    reached = climb(x, RATE_HZ, 220.0 + off_hz, spectrum)
    assert reached.f_hz == pytest.approx(220.0, rel=ratio_of_cents(0.01) - 1)
    assert reached.glide_hz_per_s == 0.0


def test_a_glide_is_seen() -> None:
    t_s = (np.arange(48_000) - 23_999.5) / RATE_HZ
    x = np.sin(2 * np.pi * (500.0 * t_s + 0.5 * 3.0 * t_s**2))
    reached = climb(x, RATE_HZ, 500.1, spectrum_of(middle_of(x, 24_000), RATE_HZ))
    assert reached.f_hz == pytest.approx(500.0, abs=0.01)
    assert reached.glide_hz_per_s == pytest.approx(3.0, rel=0.02)


@pytest.mark.parametrize("sign", [-1.0, 1.0])
def test_a_high_tone_that_drifts_for_seconds_is_followed(sign: float) -> None:
    t_s = (np.arange(192_000) - 95_999.5) / 96_000.0
    glide_hz_per_s = sign * 2.88  # half a cent a second at 10 kHz
    cycles = 9975.3 * t_s + 0.5 * glide_hz_per_s * t_s**2
    x = 0.1 * np.sin(2 * np.pi * cycles) + np.sin(2 * np.pi * 3 * cycles)
    spectrum = spectrum_of(middle_of(x, 48_000), 96_000.0)
    reached = climb(x, 96_000.0, 9975.31, spectrum)
    assert reached.f_hz == pytest.approx(9975.3, abs=1e-3)
    assert reached.glide_hz_per_s == pytest.approx(glide_hz_per_s, rel=1e-3)
