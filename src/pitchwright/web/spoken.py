"""What is said aloud while a trimmer is turned: little, and never two things at once."""

from __future__ import annotations

from pitchwright.web.plumb import Hint, Shown
from pitchwright.web.texts import say

__all__ = ["Spoken"]

_MARKS_CENTS = (1, 2, 3, 5, 10, 20, 30, 50)
"""Distances that are called out as the reading comes nearer."""
_QUIET_S = 0.9


class Spoken:
    """Follows one turn and says when something new is worth hearing."""

    def __init__(self) -> None:
        self._hint = Hint.BEGIN
        self._beyond: int | None = None
        self._last_s = -_QUIET_S

    def after(self, shown: Shown) -> str:
        """What is to be said now; empty for nothing."""
        beyond = sum(1 for cents in _MARKS_CENTS if abs(shown.mean_cents) > cents)
        passed = self._beyond is not None and beyond < self._beyond
        if shown.t_s - self._last_s < _QUIET_S and shown.hint is not Hint.INSIDE:
            return ""
        said = ""
        if shown.hint is not self._hint:
            said = "" if shown.hint is Hint.BEGIN else say(f"spoken.{shown.hint.value}")
        elif shown.hint is Hint.ONWARD and passed:
            said = say("spoken.left", left=_MARKS_CENTS[beyond])
        self._hint, self._beyond = shown.hint, beyond
        if said:
            self._last_s = shown.t_s
        return said
