"""The newest stretch of a stream, in one piece, with its samples numbered."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["Tape"]

Array = NDArray[np.float64]


class Tape:
    """Keeps at least the last ``length`` samples.

    Parameters
    ----------
    length
        How many samples.

    Attributes
    ----------
    end
        Number of the next sample; lost samples are counted.
    """

    def __init__(self, length: int) -> None:
        self._held = np.zeros(2 * length)
        self._length = length
        self._used = 0
        self.end = 0

    @property
    def start(self) -> int:
        """Number of the first sample still held."""
        return self.end - self._used

    def append(self, samples: Array) -> None:
        """Add the next samples, no more at once than are kept."""
        if self._used + len(samples) > len(self._held):
            keep = self._length - len(samples)
            self._held[:keep] = self._held[self._used - keep : self._used]
            self._used = keep
        self._held[self._used : self._used + len(samples)] = samples
        self._used += len(samples)
        self.end += len(samples)

    def gap(self, missing: int) -> None:
        """Forget everything; ``missing`` samples were lost."""
        self._used = 0
        self.end += missing

    def since(self, number: int) -> tuple[Array, int]:
        """The samples from this number on that are held, and the number of the first."""
        first = max(number, self.start)
        return self._held[self._used - (self.end - first) : self._used], first
