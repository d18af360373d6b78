import numpy as np
import pytest
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.pitch import FlagKind, read
from pitchwright.units import cents_between

RATE_HZ = 48_000


def saw(f_hz: float, duration_s: float, rate_hz: float = RATE_HZ) -> NDArray[np.float64]:
    t_s = np.arange(round(duration_s * rate_hz)) / rate_hz
    top = int(0.45 * rate_hz / f_hz)
    x = np.zeros_like(t_s)
    for k in range(1, top + 1):
        x += 0.4 * np.sin(2 * np.pi * k * f_hz * t_s) / k
    return x


@pytest.mark.parametrize("f_hz", [16.35, 61.3, 440.0, 3000.7, 12_400.0])
def test_a_saw_is_read_to_a_hundredth_of_a_cent(f_hz: float) -> None:
    reading = read(saw(f_hz, 0.5), RATE_HZ)
    assert reading.f_hz is not None
    assert abs(cents_between(reading.f_hz, f_hz)) < 0.01
    assert reading.u_cents < 0.01
    assert reading.periods == pytest.approx(0.5 * f_hz, rel=1e-4)


def test_silence_has_no_pitch() -> None:
    reading = read(np.zeros(4800), RATE_HZ)
    assert reading.f_hz is None
    assert reading.u_cents == np.inf
    assert reading.has(FlagKind.NO_PITCH)


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_what_is_not_a_number_is_refused(bad: float) -> None:
    x = saw(440.0, 0.1)
    x[100] = bad
    with pytest.raises(InputError, match="not finite"):
        read(x, RATE_HZ)
