import numpy as np
import pytest
from numpy.typing import NDArray

from pitchwright.pitch.live_bites import MARGIN, Law, fold_bites

RATE_HZ = 48_000.0
Array = NDArray[np.float64]


def tone(f_hz: float, sizes: tuple[complex, ...], n: int, dc: float = 0.2) -> Array:
    phase = 2 * np.pi * f_hz * np.arange(n) / RATE_HZ
    parts = [np.real(a * np.exp(1j * k * phase)) for k, a in enumerate(sizes, start=1)]
    return np.asarray(np.sum(parts, axis=0) + dc)


@pytest.mark.parametrize("f_hz", [17.3, 101.7, 443.21, 2793.8])
def test_every_bite_shows_the_harmonics_that_were_put_in(f_hz: float) -> None:
    sizes = (0.3, 0.1j, -0.05 + 0.02j, 0.04)
    x = tone(f_hz, sizes, 24_000)
    # The law's phase is zero where its first bite begins: a whole number of periods in.
    law = Law(f_hz, RATE_HZ, 2 * RATE_HZ / f_hz)
    count = law.whole_bites(len(x))
    found, power = fold_bites(x, 0, law, 0, count, 8)
    assert found.shape == (count, 8)
    wanted = np.concatenate((sizes, np.zeros(4)))
    np.testing.assert_allclose(found, np.tile(wanted, (count, 1)), atol=2e-3)
    np.testing.assert_allclose(power, np.sum(np.abs(wanted) ** 2) / 2, rtol=5e-3)


def test_bites_are_numbered_from_the_laws_begin() -> None:
    x = tone(443.21, (0.3, 0.2), 24_000)
    law = Law(443.21, RATE_HZ, 100.5)
    whole, _ = fold_bites(x, 0, law, 0, 9, 5)
    part, _ = fold_bites(x[1000:], 1000, law, 4, 3, 5)
    np.testing.assert_allclose(part, whole[4:7], atol=1e-12)


def test_a_bite_is_complete_only_once_all_its_samples_are_there() -> None:
    law = Law(100.0, RATE_HZ, 20.0)
    assert law.periods == 1
    assert law.whole_bites(500 + MARGIN - 1) == 0
    assert law.whole_bites(500 + MARGIN) == 1
    x = np.zeros(500 + MARGIN)
    fold_bites(x, 0, law, 0, law.whole_bites(len(x)), 3)
