"""The plumb view's figures: how far, how sure, how wide a picture. Drawn in looks/plumb.js.

One :class:`Plumb` follows one turn for one screen. It is given live readings as they come and says
what is to be shown; it reads no clock, so the same readings give the same picture.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

__all__ = ["HALVES_CENTS", "Hint", "Plumb", "Shown", "half_for", "scatter"]

HALVES_CENTS = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1200.0, 2400.0)
"""Half widths that the picture may have, in cents."""

_WIDEN_AT = 0.92
_TIGHTEN_AT = 0.7
"""Shares of the half width: wider beyond the first; tighter once below the second of the next."""
_WINDOWS_IN_HALF = 3.0
"""The picture stays at least so many windows wide either way, so that the aim stays a line."""
_TIGHTEN_AFTER_S = 0.35
_MEAN_S = 0.25
_SCATTER_S = 0.8
_FEWEST = 5
_WAY_CENTS = 0.8
"""How far the reading must have gone before it is said which way."""


class Hint(StrEnum):
    """What the reading says to the hand."""

    BEGIN = "begin"
    """Not moved yet."""
    ONWARD = "onward"
    """It comes nearer."""
    TURN_BACK = "turn back"
    """It goes away from the aim, or went past it."""
    INSIDE = "inside"
    """It stands inside the window: hold still."""


@dataclass(frozen=True, slots=True)
class Shown:
    """What is shown at one moment; cents count from the aim.

    Attributes
    ----------
    t_s
        Time of the newest reading.
    off_cents
        Newest reading.
    mean_cents
        Mean of the last quarter second, for the large figure.
    u_cents
        Expanded uncertainty of that mean (k = 2) from the readings' own scatter; None where there
        are too few to tell.
    half_cents
        Half width of the picture.
    hint
        What it says to the hand.
    """

    t_s: float
    off_cents: float
    mean_cents: float
    u_cents: float | None
    half_cents: float
    hint: Hint


class Plumb:
    """Follows the live readings of one turn.

    Parameters
    ----------
    aim_cents, window_cents
        Reading to stop at, and half width of the window about it.
    start_cents
        Reading before the turn.
    """

    def __init__(self, aim_cents: float, window_cents: float, start_cents: float) -> None:
        self.aim_cents, self.window_cents = aim_cents, window_cents
        self._start = start_cents - aim_cents
        self._recent: deque[tuple[float, float]] = deque()
        self._first: list[float] = []
        self._nearest = math.inf
        self._half = half_for(self._start, window_cents)
        self._small_since: float | None = None

    def take(self, points: Iterable[tuple[float, float]]) -> list[Shown]:
        """Take in live readings (seconds, cents), in order; what is to be shown after each."""
        return [self._one(t_s, cents - self.aim_cents) for t_s, cents in points]

    def _one(self, t_s: float, off: float) -> Shown:
        self._recent.append((t_s, off))
        while self._recent[0][0] < t_s - _SCATTER_S:
            self._recent.popleft()
        if len(self._first) < 3:
            self._first.append(off)
        near = [o for t, o in self._recent if t >= t_s - _MEAN_S]
        mean = sum(near) / len(near)
        self._choose_half(t_s, off)
        return Shown(t_s, off, mean, self._unsure(len(near)), self._half, self._hint(mean))

    def _choose_half(self, t_s: float, off: float) -> None:
        wanted = half_for(off, self.window_cents)
        if wanted > self._half:
            self._half, self._small_since = wanted, None
        elif wanted < self._half and abs(off) <= _TIGHTEN_AT * wanted:
            if self._small_since is None:
                self._small_since = t_s
            if t_s - self._small_since >= _TIGHTEN_AFTER_S:
                # One step at a time, so that the eye can follow.
                place = HALVES_CENTS.index(self._half)
                self._half, self._small_since = HALVES_CENTS[place - 1], None
        else:
            self._small_since = None

    def _unsure(self, count: int) -> float | None:
        from pitchwright.tracking.coverage import expanded_u

        sd = scatter(self._recent)
        return None if sd is None else expanded_u(sd / math.sqrt(count))

    def _hint(self, mean: float) -> Hint:
        if abs(mean) <= self.window_cents:
            self._nearest = 0.0
            return Hint.INSIDE
        began = sum(self._first) / len(self._first)
        self._nearest = min(self._nearest, abs(mean))
        past = mean * began < 0.0
        if past or abs(mean) > self._nearest + max(_WAY_CENTS, 0.5 * self.window_cents):
            return Hint.TURN_BACK
        if abs(began) - abs(mean) > _WAY_CENTS:
            return Hint.ONWARD
        return Hint.BEGIN


def half_for(off_cents: float, window_cents: float) -> float:
    """Smallest half width that holds the reading with room to spare, and the aim as a line."""
    least = max(abs(off_cents) / _WIDEN_AT, _WINDOWS_IN_HALF * window_cents)
    return next((half for half in HALVES_CENTS if half >= least), HALVES_CENTS[-1])


def scatter(points: Iterable[tuple[float, float]]) -> float | None:
    """Standard deviation of readings about their own straight line; None where they are few."""
    pairs = list(points)
    if len(pairs) < _FEWEST:
        return None
    mean_t = sum(t for t, _ in pairs) / len(pairs)
    mean_o = sum(o for _, o in pairs) / len(pairs)
    across = sum((t - mean_t) ** 2 for t, _ in pairs)
    slope = sum((t - mean_t) * (o - mean_o) for t, o in pairs) / across if across > 0.0 else 0.0
    left = sum((o - mean_o - slope * (t - mean_t)) ** 2 for t, o in pairs)
    return math.sqrt(left / (len(pairs) - 2))
