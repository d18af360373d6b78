"""The one rule for ticks, and for how many keys a strip shows."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final

__all__ = ["FEWEST_KEYS", "round_step", "strip", "ticks"]

FEWEST_KEYS: Final = 24
"""A strip of a few keys is hard to read as a keyboard."""


def round_step(least: float) -> float:
    """1, 2 or 5 times a power of ten: the smallest that is no less."""
    size = 10.0 ** math.floor(math.log10(least))
    return next(size * m for m in (1.0, 2.0, 5.0, 10.0) if size * m >= least * (1.0 - 1e-9))


def ticks(low: float, high: float, about: int) -> tuple[tuple[float, ...], int]:
    """Round amounts from low to high, about so many, and the decimals they need."""
    step = round_step((high - low) / about)
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    first, last = math.ceil(low / step), math.floor(high / step)
    return tuple(i * step for i in range(first, last + 1)), decimals


def strip(notes: Iterable[float]) -> tuple[int, int]:
    """First and last key that show all notes, two octaves at least."""
    every = list(notes)
    low, high = math.floor(min(every)), math.ceil(max(every))
    lack = FEWEST_KEYS - (high - low)
    return (low - lack // 2, high + (lack + 1) // 2) if lack > 0 else (low, high)
