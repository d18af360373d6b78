"""A person who turns the practice rig's trimmers on the page, and a hand that does it for show.

The reading is watched at the pace of a clock. A turn is over by itself when the reading has rested
inside the aim's window for a moment, at once where it leaves the limits, and whenever the person
says so. A trimmer other than the asked one can be turned: hands slip, and the tool must notice.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable

from pitchwright.practice.hands import Person, Turned, Workpiece

__all__ = ["Sliders"]

_LOOK_S = 0.05
_REST_S = 1.0
_LIMIT_S = 0.3
"""How long the reading may stand beyond a limit: a finger overshoots sooner than it stops."""
_UNMOVED_CENTS = 0.6
_MEAN_OF = 10
_MOST_POINTS = 2400


class Sliders(Person):
    """Turns what the sliders on the page say; safe to call from any thread.

    Parameters
    ----------
    window_cents
        Gives the half width of the window about the aim of the turn under way.
    resting
        Is told how much of the rest that ends a turn is over, 0 to 1.
    """

    def __init__(self, window_cents: Callable[[], float], resting: Callable[[float], None]) -> None:
        self._window_cents, self._resting = window_cents, resting
        self._moves: deque[tuple[str, float]] = deque()
        self._leave = threading.Event()

    def move(self, trimmer: str, turns: float) -> None:
        """Turn a trimmer, clockwise positive; done at the next look."""
        self._moves.append((trimmer, turns))

    def leave(self) -> None:
        """Leave the trimmer where it is: the turn is over."""
        self._leave.set()

    def turn(
        self,
        work: Workpiece,
        *,
        asked: str,
        start_cents: float,
        aim_cents: float,
        low_cents: float,
        high_cents: float,
        most_turns: float | None,
        clockwise: bool | None,
    ) -> Turned:
        """Follow the sliders until the reading rests inside the window or the person leaves."""
        del most_turns, clockwise
        self._leave.clear()
        self._moves.clear()
        window = self._window_cents()
        net, touched, resting_s, beyond_s = 0.0, False, 0.0, 0.0
        lately: deque[float] = deque(maxlen=_MEAN_OF)
        track: list[tuple[float, float]] = []
        stopped = "there"
        while True:
            work.wait(_LOOK_S)
            moved = False
            while self._moves:
                trimmer, turns = self._moves.popleft()
                work.turn(trimmer, turns)
                net += turns if trimmer == asked else 0.0
                moved = touched = True
            cents = work.live_cents()
            track.append((work.now_s(), cents))
            if len(track) > _MOST_POINTS:
                del track[1::2]
            if moved:
                lately.clear()
            lately.append(cents)
            # A single live reading scatters by more than a narrow window is wide.
            inside = abs(sum(lately) / len(lately) - aim_cents) <= window
            resting_s = resting_s + _LOOK_S if inside and touched and not moved else 0.0
            beyond_s = 0.0 if low_cents <= cents <= high_cents else beyond_s + _LOOK_S
            self._resting(min(resting_s / _REST_S, 1.0))
            if resting_s >= _REST_S:
                break
            if touched and beyond_s >= _LIMIT_S:
                stopped = "limit"
                break
            if self._leave.is_set():
                far = abs(aim_cents - start_cents) > 2.0 * _UNMOVED_CENTS
                still = touched and far and abs(cents - start_cents) < _UNMOVED_CENTS
                stopped = "still" if still else "there"
                break
        self._resting(0.0)
        return Turned(net, tuple(track), stopped)
