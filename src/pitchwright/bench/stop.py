"""The wish to stop: said from any thread, seen by the bench wherever it waits.

Nothing is thrown into a running thread. Whoever waits looks here, so a stop comes only at places
that are meant for it, and takes no longer than the longest of those waits.
"""

from __future__ import annotations

import threading

__all__ = ["Stop", "StopAsked"]


class StopAsked(KeyboardInterrupt):
    """The person stopped the procedure: what an interrupt from the keyboard is in a terminal."""


class Stop:
    """A wish to stop, for one bench and one run of a procedure; never taken back."""

    def __init__(self) -> None:
        self._asked = threading.Event()

    @property
    def asked(self) -> bool:
        """Whether somebody wishes to stop."""
        return self._asked.is_set()

    def ask(self) -> None:
        """Wish to stop; from any thread, as often as you like."""
        self._asked.set()

    def look(self) -> None:
        """Go on where nobody wishes to stop; StopAsked otherwise."""
        if self._asked.is_set():
            raise StopAsked

    def wait(self, seconds: float) -> None:
        """Let time pass; StopAsked as soon as somebody wishes to stop."""
        if self._asked.wait(max(seconds, 0.0)):
            raise StopAsked
