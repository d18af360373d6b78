"""When a turn is over: the reading rests inside the window, elsewhere, or went past a limit.

Pure: readings in, a decision out.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

from pitchwright.procedures.requests import Ended, WatchTurn
from pitchwright.tracking.coverage import expanded_u

__all__ = ["Resting"]


@dataclass(frozen=True, slots=True)
class _Seen:
    t_s: float
    cents: float
    u_cents: float


class Resting:
    """Follows one turn.

    Parameters
    ----------
    request
        The turn: where it starts, its aim, window and limits.
    inside_s
        How long the reading must rest inside the window, seconds.
    outside_s
        How long it must rest elsewhere after it had moved: somebody who reads what to do next, or
        changes the grip, must not be hurried.
    rest_cents
        What moves by less than this (and than its uncertainty explains) rests.
    moved_cents
        What has gone further than this from the start has moved.
    """

    def __init__(
        self,
        request: WatchTurn,
        *,
        inside_s: float = 0.8,
        outside_s: float = 4.0,
        rest_cents: float = 0.15,
        moved_cents: float = 0.6,
    ) -> None:
        self._request = request
        self._inside_s, self._outside_s = inside_s, outside_s
        self._rest_cents, self._moved_cents = rest_cents, moved_cents
        self._seen: deque[_Seen] = deque(maxlen=1024)
        self._beyond = 0
        self.moved = False
        """Whether the reading has moved since the turn began."""
        self.past_limit = False
        """Whether it went past a limit: turning should stop at once."""

    def saw(self, t_s: float, cents: float, u_cents: float) -> Ended | None:
        """Take the next reading; how the turn ended, None while it has not."""
        request = self._request
        self._seen.append(_Seen(t_s, cents, u_cents))
        if abs(cents - request.start_cents) > self._moved_cents + 3.0 * u_cents:
            self.moved = True
        # One reading alone may be a slip of the ear.
        outside = not request.low_cents < cents < request.high_cents
        self._beyond = self._beyond + 1 if outside else 0
        self.past_limit = self.past_limit or self._beyond >= 2
        if not self.rests(self._inside_s):
            return None
        if self.past_limit:
            return Ended.LIMIT
        if abs(cents - request.aim_cents) <= request.window_cents:
            return Ended.INSIDE
        if self.moved and self.rests(self._outside_s):
            return Ended.OUTSIDE
        return None

    def rests(self, for_s: float) -> bool:
        """Whether the reading has rested for so long."""
        now_s = self._seen[-1].t_s if self._seen else 0.0
        recent = [one for one in self._seen if one.t_s >= now_s - for_s]
        if len(recent) < 4 or now_s - self._seen[0].t_s < for_s:
            return False
        cents = [one.cents for one in recent]
        noise = sorted(one.u_cents for one in recent)[len(recent) // 2]
        return max(cents) - min(cents) < self._rest_cents + 4.0 * noise

    def rest_began_s(self, longest_s: float = 2.0) -> float:
        """Since when the reading has rested, at most so long ago."""
        now_s = self._seen[-1].t_s
        here = self._seen[-1]
        began_s = now_s
        for one in reversed(self._seen):
            slack = 0.5 * self._rest_cents + expanded_u(one.u_cents + here.u_cents)
            if now_s - one.t_s > longest_s or abs(one.cents - here.cents) > slack:
                break
            began_s = one.t_s
        return began_s

    def on_word(self) -> Ended:
        """How the turn ended where the person says that it has."""
        if self.past_limit:
            return Ended.LIMIT
        if not self.moved:
            return Ended.STILL
        cents = self._seen[-1].cents
        inside = abs(cents - self._request.aim_cents) <= self._request.window_cents
        return Ended.INSIDE if inside else Ended.OUTSIDE
