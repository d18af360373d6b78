"""The part of a span in which the pitch stands still."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from pitchwright.pitch.still import still_part

RATE_HZ = 48_000


def saw(cents: NDArray[np.float64], f_hz: float, noise: float = 1e-4) -> NDArray[np.float32]:
    """A sawtooth whose pitch is off ``f_hz`` by so much, sample by sample."""
    turns = np.cumsum(f_hz * 2.0 ** (cents / 1200.0)) / RATE_HZ
    sound = sum(
        np.sin(2 * np.pi * k * turns) / k for k in range(1, max(2, min(30, int(20e3 / f_hz))))
    )
    hiss = np.random.default_rng(2).normal(0.0, noise, len(cents))
    return np.asarray(0.3 * sound + hiss, dtype=np.float32)


@pytest.mark.parametrize("f_hz", [16.35, 65.4, 440.0, 4186.0])
def test_a_standing_note_is_still_throughout(f_hz: float) -> None:
    part = still_part(saw(np.zeros(2 * RATE_HZ), f_hz), RATE_HZ, f_hz)
    assert part.share > 0.9
    assert part.swing_cents < 0.3


@pytest.mark.parametrize("f_hz", [65.4, 440.0, 2093.0])
def test_the_tail_of_an_attack_is_not_in_it(f_hz: float) -> None:
    t_s = np.arange(2 * RATE_HZ) / RATE_HZ
    cents = 20.0 * np.exp(-t_s / 0.1)
    part = still_part(saw(cents, f_hz), RATE_HZ, f_hz)
    assert abs(cents[part.first]) < 1.0
    assert part.last > 1.8 * RATE_HZ


def test_a_step_parts_the_span_and_the_longer_side_is_kept() -> None:
    cents = np.where(np.arange(2 * RATE_HZ) < 0.7 * RATE_HZ, 8.0, 0.0)
    part = still_part(saw(cents, 440.0), RATE_HZ, 440.0)
    assert 0.65 * RATE_HZ < part.first < 0.8 * RATE_HZ
    assert part.last > 1.9 * RATE_HZ


def test_a_pause_is_not_in_it() -> None:
    sound = saw(np.zeros(2 * RATE_HZ), 440.0)
    sound[: RATE_HZ // 2] = 0.0
    part = still_part(sound, RATE_HZ, 440.0)
    assert part.first >= RATE_HZ // 2 - RATE_HZ // 50
    assert part.share > 0.7


def test_a_slow_glide_has_its_swing() -> None:
    cents = np.linspace(-10.0, 10.0, RATE_HZ)
    part = still_part(saw(cents, 440.0), RATE_HZ, 440.0)
    assert part.swing_cents / part.share == pytest.approx(20.0, rel=0.15)


def test_too_short_to_tell() -> None:
    part = still_part(saw(np.zeros(3000), 40.0), RATE_HZ, 40.0)
    assert (part.first, part.last, part.share) == (0, 3000, 1.0)


def test_digital_silence_is_nowhere_moving() -> None:
    part = still_part(np.zeros(RATE_HZ, np.float32), RATE_HZ, 440.0)
    assert part.swing_cents == 0.0
