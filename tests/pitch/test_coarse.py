import numpy as np
import pytest

from pitchwright.pitch.coarse import coarse_pitch, comb_share

RATE_HZ = 48_000.0


def tone(f_hz: float, sizes: list[float]) -> np.ndarray:
    t_s = np.arange(24_000) / RATE_HZ
    x = np.zeros_like(t_s)
    for k, size in enumerate(sizes, start=1):
        x += size * np.sin(2 * np.pi * k * f_hz * t_s + k)
    return x


@pytest.mark.parametrize(
    "sizes",
    [
        [1.0],
        [0.0, 1.0, 1.0],
        [0.01, 1.0, 0.0, 0.3, 0.2],
        [1.0] * 60,
        [0.2, 0.1, 1.0, 0.0, 1.0],
    ],
    ids=["sine", "no fundamental", "weak fundamental", "pulse", "odd ones strong"],
)
@pytest.mark.parametrize("f_hz", [20.3, 87.1, 331.7])
def test_the_octave_is_right(sizes: list[float], f_hz: float) -> None:
    found = coarse_pitch(tone(f_hz, sizes), RATE_HZ, 16.0, 12_500.0).best
    assert found is not None
    # Within half a bin of two hertz, shared by the highest strong harmonic.
    assert found.f_hz == pytest.approx(f_hz, abs=1.0)


def test_a_comb_a_tone_off_misses() -> None:
    x = tone(87.1, [1 / k for k in range(1, 60)])
    spectrum = coarse_pitch(x, RATE_HZ, 16.0, 12_500.0).spectrum
    assert comb_share(spectrum, 87.1) > 0.98
    assert comb_share(spectrum, 87.1 * 2 ** (2 / 12)) < 0.3
