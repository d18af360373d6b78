"""Samples that go missing without a word, told from samples that are late."""

import numpy as np
import pytest

from pitchwright.bench.live.delivery import Delivery

RATE_HZ = 48_000


def delivered(
    seconds: float, *, lose_at_s: float = 1e9, lose_s: float = 0.0, ppm: float = 0.0, seed: int = 1
) -> tuple[int, Delivery]:
    """Lumps of 50 ms, up to 40 ms late each; the samples found missing."""
    rng = np.random.default_rng(seed)
    watch, found = Delivery(RATE_HZ), 0
    for lump in range(1, round(seconds / 0.05)):
        sounded_s = lump * 0.05
        at_s = sounded_s + (lose_s if sounded_s > lose_at_s else 0.0)
        at_s += 0.04 * float(rng.random()) ** 3
        found += watch.came(round(sounded_s * RATE_HZ * (1 + ppm * 1e-6)), 100.0 + at_s)
    return found, watch


@pytest.mark.parametrize("seed", range(5))
def test_late_lumps_are_not_missing_ones(seed: int) -> None:
    assert delivered(120.0, seed=seed)[0] == 0


@pytest.mark.parametrize("ppm", [-200.0, 200.0])
def test_clocks_that_differ_a_little_lose_nothing(ppm: float) -> None:
    assert delivered(300.0, ppm=ppm)[0] == 0


@pytest.mark.parametrize("lose_s", [0.05, 0.3])
def test_lost_samples_are_counted(lose_s: float) -> None:
    found, _ = delivered(20.0, lose_at_s=8.0, lose_s=lose_s)
    assert found / RATE_HZ == pytest.approx(lose_s, abs=0.02)


def test_the_rate_is_told_after_some_seconds() -> None:
    _, early = delivered(3.0)
    assert early.rate_hz is None
    _, right = delivered(12.0)
    assert right.rate_hz == pytest.approx(RATE_HZ, rel=0.02)
    _, slow = delivered(12.0, ppm=(44_100 / 48_000 - 1) * 1e6)
    assert slow.rate_hz == pytest.approx(44_100, rel=0.02)
