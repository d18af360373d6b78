"""Live readings on their way to the screens: some twenty small dicts a second, ready for JSON.

Live readings are not part of the scene: they come too often, and only the last seconds are shown.
Each screen asks for what is new since the last it got, so a screen that was away misses nothing
that is still shown, and one that is slow makes nobody else wait.
"""

from __future__ import annotations

import threading
from collections import deque
from typing import Any

__all__ = ["SHOWN_S", "Feed"]

SHOWN_S = 12.0
"""How long a live reading stays in the picture, seconds."""
_MOST = 1000


class Feed:
    """The last seconds of live readings, safe to fill and to read from any thread."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._points: deque[tuple[int, float, float]] = deque(maxlen=_MOST)
        self._number = 0
        self._turn = 0
        self._rested = 0.0

    def begin(self) -> None:
        """Another turn begins: what was shown of the last one is gone."""
        with self._lock:
            self._points.clear()
            self._turn += 1
            self._rested = 0.0

    def add(self, t_s: float, cents: float) -> None:
        """Take in one live reading."""
        with self._lock:
            self._number += 1
            self._points.append((self._number, t_s, cents))
            while self._points and self._points[0][1] < t_s - SHOWN_S:
                self._points.popleft()

    def rest(self, share: float) -> None:
        """Say how much of the rest inside the aim that advances by itself is over, 0 to 1."""
        with self._lock:
            self._rested = share

    def since(self, number: int) -> dict[str, Any]:
        """What is new since a number, as values for JSON.

        Returns
        -------
        dict
            ``n``: the number of the last reading, to be given the next time; ``turn``: counts
            turns, another one means that the path begins anew; ``rest``: 0 to 1; ``points``: list
            of ``[seconds, cents]``, in order.
        """
        with self._lock:
            if number == self._number:
                return {"n": number, "turn": self._turn, "rest": self._rested, "points": []}
            new = [[round(t, 3), round(c, 3)] for n, t, c in self._points if n > number]
            return {"n": self._number, "turn": self._turn, "rest": self._rested, "points": new}
