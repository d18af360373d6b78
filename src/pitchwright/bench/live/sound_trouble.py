"""What is wrong with the sound of one channel while somebody turns: clipped, broken, too quiet.

It is said when it has lasted a moment and unsaid some seconds after it was over, so that a hand
that turns is not called away by a single block.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from typing import Final

from pitchwright.bench.live.input_check import QUIET_DBFS
from pitchwright.pitch.live import LiveReading

__all__ = ["SoundTrouble", "TroubleWatch"]

_LASTS_S: Final = 0.3
_OVER_S: Final = 3.0


class SoundTrouble(StrEnum):
    """What can be wrong; of several the first one is said."""

    CLIPPED = "clipped"
    GAPS = "gaps"
    """Samples were lost on the way."""
    QUIET = "too quiet"


class TroubleWatch:
    """Follows one channel.

    Parameters
    ----------
    changed
        Is given what is wrong whenever that changes; None once nothing is.
    """

    def __init__(self, changed: Callable[[SoundTrouble | None], None]) -> None:
        self._changed = changed
        self._began_s: dict[SoundTrouble, float] = {}
        self._seen_s: dict[SoundTrouble, float] = {}
        self._said: SoundTrouble | None = None
        self._now_s = 0.0

    def saw(self, t_s: float, reading: LiveReading) -> None:
        """Take in a live reading, with a pitch or without."""
        self._now_s = t_s
        self._note(SoundTrouble.CLIPPED, reading.clipped)
        self._note(SoundTrouble.QUIET, reading.level_dbfs < QUIET_DBFS)
        self._say()

    def lost(self, t_s: float) -> None:
        """Samples were lost."""
        self._now_s = t_s
        self._seen_s[SoundTrouble.GAPS] = self._now_s
        self._say()

    def over(self) -> None:
        """The turn is over: nothing is wrong any more."""
        self._began_s.clear()
        self._seen_s.clear()
        self._say()

    def _note(self, kind: SoundTrouble, there: bool) -> None:
        if not there:
            self._began_s.pop(kind, None)
            return
        began_s = self._began_s.setdefault(kind, self._now_s)
        if self._now_s - began_s >= _LASTS_S:
            self._seen_s[kind] = self._now_s

    def _say(self) -> None:
        now = next(
            (
                kind
                for kind in SoundTrouble
                if self._now_s - self._seen_s.get(kind, -_OVER_S) < _OVER_S
            ),
            None,
        )
        if now is not self._said:
            self._said = now
            self._changed(now)
