"""The wish to stop: said from any thread, seen by the bench wherever it waits.

Nothing is thrown into a running thread. Whoever waits looks here, so a stop comes only at places
that are meant for it, and takes no longer than the longest of those waits.
"""

from __future__ import annotations

import time

__all__ = ["Stop", "StopAsked"]

_LOOK_S = 0.05


class StopAsked(KeyboardInterrupt):
    """The person stopped the procedure: what an interrupt from the keyboard is in a terminal."""


class Stop:
    """A wish to stop, for one bench and one run of a procedure; never taken back.

    It holds no lock, so that it can be asked for in a signal handler too, wherever that comes.
    """

    def __init__(self) -> None:
        self._asked = False

    @property
    def asked(self) -> bool:
        """Whether somebody wishes to stop."""
        return self._asked

    def ask(self) -> None:
        """Wish to stop; from any thread or signal, as often as you like."""
        self._asked = True

    def look(self) -> None:
        """Go on where nobody wishes to stop; StopAsked otherwise."""
        if self._asked:
            raise StopAsked

    def wait(self, seconds: float) -> None:
        """Let time pass; StopAsked as soon as somebody wishes to stop."""
        until_s = time.monotonic() + seconds
        self.look()
        while (left_s := until_s - time.monotonic()) > 0.0:
            time.sleep(min(left_s, _LOOK_S))
            self.look()
