"""Noticing, while listening, that the sound arrives on another channel than the one listened to."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.bench.live.input_check import arrives_elsewhere

__all__ = ["Elsewhere"]

Array = NDArray[np.float64]

_LOOK_S: Final = 1.5


class Elsewhere:
    """Compares the levels of all channels, stretch by stretch.

    Parameters
    ----------
    rate_hz
        Sample rate.
    names, others
        The channels listened to, and those after them on which nothing is meant to sound.
    """

    def __init__(self, rate_hz: float, names: Sequence[str], others: Sequence[str]) -> None:
        self._names, self._others = tuple(names), tuple(others)
        self._enough = round(_LOOK_S * rate_hz)
        self._said: set[str] = set()
        self.start_again()

    def start_again(self) -> None:
        """Forget what was heard of this stretch."""
        self._count = 0
        self._power: Array = np.zeros(len(self._names) + len(self._others))

    def take(self, samples: NDArray[np.floating]) -> list[str]:
        """Take in a block, shape (n, channels); what is to be said, if anything.

        Said once for a channel, and again only after something was heard there.
        """
        if not self._others:
            return []
        self._power += len(samples) * np.var(samples, axis=0, dtype=np.float64)
        self._count += len(samples)
        if self._count < self._enough:
            return []
        levels = [_level_dbfs(float(power) / self._count) for power in self._power]
        self.start_again()
        elsewhere = dict(zip(self._others, levels[len(self._names) :], strict=True))
        sentences = []
        for name, level in zip(self._names, levels, strict=False):
            found = arrives_elsewhere(name, level, elsewhere)
            if found is None:
                self._said.discard(name)
            elif name not in self._said:
                self._said.add(name)
                sentences.append(f"{found.sentence}. {found.do}.")
        return sentences


def _level_dbfs(power: float) -> float:
    return 10 * math.log10(2 * power) if power > 0.0 else -math.inf
