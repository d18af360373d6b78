"""What was just said: a wrong trimmer, a bumped knob, a note that gives no pitch."""

from __future__ import annotations

from pitchwright.web.scene import Scene
from pitchwright.web.screens.frame import Frame
from pitchwright.web.screens.pieces import Tag

__all__ = ["News"]

_TURNS = 2
"""For how many turns it stays to be read."""


class News:
    """One line with the newest sentence, spoken once and shown until it has had its time."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        said = frame.conductor.scene.said
        self._newest = said[-1] if said else None
        self._turns = 0
        self._line = Tag("p", "", "pw-news", "news")

    def show(self, scene: Scene) -> None:
        """Show what is new."""
        newest = scene.said[-1] if scene.said else None
        if newest == self._newest:
            return
        self._newest, self._turns = newest, 0
        self._line.set_text(newest.sentence if newest else "")
        if newest is not None:
            self._frame.speak(newest.sentence)

    def another_turn(self) -> None:
        """Another turn begins: what was said some turns ago has had its time."""
        self._turns += 1
        if self._turns >= _TURNS:
            self._line.set_text("")
