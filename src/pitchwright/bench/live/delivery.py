"""Whether samples are missing although nobody says so: the sample clock against the wall clock.

Sound arrives in lumps, late by anything up to a buffer's length, but never early. So the least
lateness over a stretch of time hardly moves: only by the difference of the two clocks, some parts
in a million. When samples are lost it goes up by their duration and stays there.
"""

from __future__ import annotations

from collections import deque
from statistics import median
from typing import Final

__all__ = ["Delivery"]

_RECENT_S: Final = 1.0
_BEFORE_S: Final = 10.0
# Buffers fill while a stream starts.
_STARTS_S: Final = 1.0
# Late by this much for as long as a second is no scheduler's hiccup.
_LOST_S: Final = 0.03
_PIECE_S: Final = 1.0
_PIECES: Final = 5
_EVEN: Final = 0.01


class Delivery:
    """Watches when samples arrive.

    Parameters
    ----------
    rate_hz
        Sample rate the device says it has.
    """

    def __init__(self, rate_hz: float) -> None:
        self._nominal_hz = rate_hz
        self._first: tuple[int, float] | None = None
        self._recent: deque[tuple[float, float]] = deque()
        self._before: deque[tuple[float, float]] = deque()
        self._piece: tuple[int, float] = (0, 0.0)
        self._rates_hz: deque[float] = deque(maxlen=4 * _PIECES)

    @property
    def rate_hz(self) -> float | None:
        """Sample rate by the wall clock, good to a few per cent; None where it cannot be told.

        A device at another rate brings its samples evenly; a computer that is too busy does not.
        """
        if len(self._rates_hz) < _PIECES:
            return None
        middle = median(self._rates_hz)
        apart = median(abs(rate_hz - middle) for rate_hz in self._rates_hz)
        return middle if apart < _EVEN * middle else None

    def came(self, count: int, at_s: float) -> int:
        """Note that ``count`` samples had come by ``at_s``; how many are found missing.

        Parameters
        ----------
        count
            Samples since the stream began.
        at_s
            Wall clock, seconds.
        """
        if self._first is None:
            self._first = self._piece = (count, at_s)
        first, since_s = self._first
        if at_s - self._piece[1] >= _PIECE_S:
            self._rates_hz.append((count - self._piece[0]) / (at_s - self._piece[1]))
            self._piece = (count, at_s)
        late_s = (at_s - since_s) - (count - first) / self._nominal_hz
        self._recent.append((at_s, late_s))
        while self._recent[0][0] < at_s - _RECENT_S:
            older_s, was_s = self._recent.popleft()
            if older_s - since_s < _STARTS_S:
                continue
            # Only what is later and less late can still become the least.
            while self._before and self._before[-1][1] >= was_s:
                self._before.pop()
            self._before.append((older_s, was_s))
        while self._before and self._before[0][0] < at_s - _BEFORE_S:
            self._before.popleft()
        if not self._before:
            return 0
        behind_s = min(late for _, late in self._recent) - self._before[0][1]
        if behind_s < _LOST_S:
            return 0
        self._before.clear()
        return round(behind_s * self._nominal_hz)
