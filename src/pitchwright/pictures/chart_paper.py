"""What every chart shares: its width and margins, what stands above it and at its foot."""

from __future__ import annotations

from typing import Final

from pitchwright.pictures.faces import fitted, text_width, wrapped
from pitchwright.pictures.pen import Pen, plain_line

__all__ = ["LEFT", "RIGHT", "WIDTH", "cut", "draw_foot", "draw_head"]

WIDTH: Final = 1000.0
LEFT, RIGHT = 74.0, 966.0
_MARGIN: Final = 34.0


def cut(words: str, most: int) -> str:
    """Words of at most so many letters."""
    return words if len(words) <= most else f"{words[: most - 1]}…"


def draw_head(pen: Pen, name: str, kicker: str, said: str, more: str = "") -> None:
    """Name and kicker on one line, the sentence below, and what it rests on."""
    name = fitted(plain_line(name), 15, 0.55 * pen.width, bold=True)
    pen.text(_MARGIN, 42, name, 15, pen.palette.ink, bold=True)
    room = pen.width - 2 * _MARGIN - text_width(name, 15, bold=True) - 24.0
    kicker = fitted(plain_line(kicker), 11.5, room)
    pen.text(pen.width - 24.0, 42, kicker, 11.5, pen.palette.soft, across="right")
    y, room = 78.0, pen.width - 2 * _MARGIN
    for line in wrapped(plain_line(said), 20, room, 2, serif=True):
        pen.text(_MARGIN, y, line, 20, pen.palette.ink, serif=True)
        y += 27
    for i, line in enumerate(_whole_sentences(plain_line(more), room, 1 if y > 110 else 2)):
        pen.text(_MARGIN, y + 17 * i, line, 12, pen.palette.soft)


def _whole_sentences(words: str, room: float, lines: int) -> list[str]:
    """As many whole sentences as the lines hold; the first is cut where even that is too long."""
    sentences = words.split(". ")
    for count in range(len(sentences), 1, -1):
        some = ". ".join(sentences[:count]).rstrip(".") + "."
        if len(wrapped(some, 12, room, lines + 1)) <= lines:
            return wrapped(some, 12, room, lines)
    return wrapped(f"{sentences[0].rstrip('.')}." if words else "", 12, room, lines)


def draw_foot(pen: Pen, y: float, words: str, *, invented: bool, left: float = LEFT - 10) -> None:
    """A line of small print, and whether the data are invented."""
    pen.text(left, y, words, 10, pen.palette.soft)
    if invented:
        pen.text(
            pen.width - 24.0, y, "Invented data.", 10, pen.palette.ink, bold=True, across="right"
        )
