"""Between the screens and the bench's thread: what people answer, and what the bench waits for.

The bench waits in its own thread; a tap, a choice or a stop comes from any other and wakes it.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import TYPE_CHECKING

from pitchwright.bench.stop import Stop

if TYPE_CHECKING:
    from pitchwright.procedures.requests import Ask

__all__ = ["People"]


class People:
    """The people at one procedure.

    Parameters
    ----------
    resting
        Is told how much of the rest that ends a turn is over, 0 to 1.
    say
        Is given sentences of the bench that belong to no request.
    sound
        Is given a word for what is wrong with the sound while a trimmer is turned; empty for none.
    """

    def __init__(
        self,
        resting: Callable[[float], None] = lambda _: None,
        say: Callable[[str], None] = lambda _: None,
        sound: Callable[[str], None] = lambda _: None,
    ) -> None:
        self.resting, self.say, self.sound = resting, say, sound
        self.window_cents = 0.5
        self.by_ear = False
        self._woken = threading.Condition()
        self.stopping = Stop()
        """The wish to stop, for the runner and the bench."""
        self._enough = False
        self._key: str | None = None
        self._move: Callable[[str, float], None] | None = None
        self._leave: Callable[[], None] | None = None

    def hears(
        self,
        *,
        leave: Callable[[], None],
        move: Callable[[str, float], None] | None = None,
    ) -> None:
        """Name what is to be told of a tap and of a practice rig's slider."""
        with self._woken:
            self._leave, self._move = leave, move

    # --- called by the bench
    @property
    def enough(self) -> bool:
        """Whether the person has had enough of a watch."""
        with self._woken:
            return self._enough

    def wait(self, seconds: float) -> None:
        """Let time pass, no longer than there is enough; StopAsked where the person stops."""
        with self._woken:
            self._woken.wait_for(lambda: self.stopping.asked or self._enough, seconds)
            self.stopping.look()

    def choose(self, question: Ask) -> str:
        """Wait until one of the choices is taken; its key."""
        del question
        with self._woken:
            self._key = None
            self._woken.wait_for(lambda: self.stopping.asked or self._key is not None)
            self.stopping.look()
            return self._key or ""

    # --- called by the screens
    def advance(self) -> None:
        """Leave the turn under way where it is."""
        if self._leave is not None:
            self._leave()

    def had_enough(self) -> None:
        """End a watch in good order, as soon as it waits."""
        with self._woken:
            self._enough = True
            self._woken.notify_all()
        self.advance()

    def answer(self, key: str) -> None:
        """Take one of the choices."""
        with self._woken:
            self._key = key
            self._woken.notify_all()

    def turn(self, trimmer: str, turns: float) -> bool:
        """Turn a trimmer of the practice rig; whether there is one to turn."""
        if self._move is None:
            return False
        self._move(trimmer, turns)
        return True

    def stop(self) -> None:
        """Stop the procedure at the next chance."""
        with self._woken:
            self.stopping.ask()
            self._woken.notify_all()
        self.advance()
