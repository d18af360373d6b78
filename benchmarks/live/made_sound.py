"""Sound made for the tracker, and what it hears in it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pitchwright.pitch.live import LiveReading, LiveTracker
from pitchwright.units import cents_between

__all__ = ["BLOCK_S", "WRONG_CENTS", "error", "heard", "tone"]

Array = NDArray[np.float64]

BLOCK_S = 0.025
WRONG_CENTS = 0.5
"""A reading this far off is wrong, unless it says that it may be."""


def _saw(cycles: Array, harmonics: int, level: float = 0.3) -> Array:
    """A saw at any phases, as powers of one turning phasor."""
    turn = np.exp(2j * np.pi * (cycles % 1.0))
    x, power = np.zeros(len(cycles)), np.ones_like(turn)
    for k in range(1, harmonics + 1):
        power *= turn
        x += level * power.imag / k
    return x


def tone(
    f_hz: float, cents: Array, rate_hz: float, rng: np.random.Generator, harmonics: int = 200
) -> Array:
    """A saw so many cents above ``f_hz`` at each sample, 60 dB above white noise."""
    pitch = f_hz * np.exp2(cents / 1200)
    cycles = rng.random() + np.concatenate(([0.0], np.cumsum(pitch[:-1]))) / rate_hz
    top = max(1, min(harmonics, int(0.45 * rate_hz / float(pitch.max()))))
    x = _saw(cycles, top)
    noise = 1e-3 * float(np.sqrt(np.mean(x * x)))
    return x + noise * rng.standard_normal(len(x))


def heard(x: Array, rate_hz: float) -> list[tuple[float, LiveReading]]:
    """Readings, each with how much sound had gone in when it came, seconds."""
    tracker = LiveTracker(rate_hz)
    block = round(BLOCK_S * rate_hz)
    found = []
    for at in range(0, len(x), block):
        part = x[at : at + block]
        found += [((at + len(part)) / rate_hz, r) for r in tracker.push(part)]
    return found


def error(reading: LiveReading, f_hz: float) -> float:
    """Cents off, infinite without a pitch."""
    return float("inf") if reading.f_hz is None else cents_between(reading.f_hz, f_hz)
