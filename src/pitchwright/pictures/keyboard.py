"""Where the keys of a keyboard strip lie, in semitones."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

__all__ = ["Key", "is_black", "keys"]

_BLACK: Final = frozenset({1, 3, 6, 8, 10})
_WHITE_EDGES: Final = {
    0: (0.5, 1.0),
    2: (1.0, 1.0),
    4: (1.0, 0.5),
    5: (0.5, 1.0),
    7: (1.0, 1.0),
    9: (1.0, 1.0),
    11: (1.0, 0.5),
}
"""How far a white key reaches to the left and right of its own semitone, in semitones."""


@dataclass(frozen=True, slots=True)
class Key:
    """One key: its note, its edges as fractional notes, and whether it is black."""

    note: int
    left: float
    right: float
    black: bool


def is_black(note: int) -> bool:
    """Whether a note's key is black."""
    return note % 12 in _BLACK


def keys(low: int, high: int) -> tuple[Key, ...]:
    """The keys from ``low`` to ``high``, white ones first, so that black ones are drawn on top.

    White keys at the ends are cut half a semitone outside; a black key at an end is left out.
    """
    white = [
        Key(
            note,
            max(note - _WHITE_EDGES[note % 12][0], low - 0.5),
            min(note + _WHITE_EDGES[note % 12][1], high + 0.5),
            black=False,
        )
        for note in range(low, high + 1)
        if note % 12 not in _BLACK
    ]
    black = [
        Key(note, note - 0.42, note + 0.42, black=True)
        for note in range(low + 1, high)
        if note % 12 in _BLACK
    ]
    return (*white, *black)
