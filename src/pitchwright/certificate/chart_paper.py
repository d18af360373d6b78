"""What every chart shares: its width and margins, what stands above it and at its foot."""

from __future__ import annotations

import math
import textwrap
from typing import Final

from pitchwright.certificate.pen import Pen, plain_line
from pitchwright.certificate.placing import text_width

__all__ = ["LEFT", "RIGHT", "WIDTH", "cut", "draw_foot", "draw_head", "round_step"]

WIDTH: Final = 1000.0
LEFT, RIGHT = 74.0, 966.0
_LETTERS: Final = 148
"""Of small print on a line."""


def cut(words: str, most: int) -> str:
    """Words of at most so many letters."""
    return words if len(words) <= most else f"{words[: most - 1]}…"


def draw_head(pen: Pen, name: str, kicker: str, said: str, more: str = "") -> None:
    """Name and kicker on one line, the sentence below, and what it rests on."""
    name = cut(plain_line(name), 48)
    pen.text(34, 42, name, 15, pen.palette.ink, bold=True)
    room = WIDTH - 58.0 - text_width(name, 15) - 24.0
    kicker = cut(plain_line(kicker), int(room / text_width("x", 11.5)))
    pen.text(RIGHT + 10, 42, kicker, 11.5, pen.palette.soft, across="right")
    y = 78.0
    for line in textwrap.wrap(plain_line(said), 80, max_lines=2, placeholder=" …"):
        pen.text(34, y, line, 20, pen.palette.ink, serif=True)
        y += 27
    for i, line in enumerate(_whole_sentences(plain_line(more), 1 if y > 110 else 2)):
        pen.text(34, y + 17 * i, line, 12, pen.palette.soft)


def _whole_sentences(words: str, lines: int) -> list[str]:
    """As many whole sentences as the lines hold; the first is cut where even that is too long."""
    sentences = words.split(". ")
    for count in range(len(sentences), 1, -1):
        wrapped = textwrap.wrap(". ".join(sentences[:count]).rstrip(".") + ".", _LETTERS)
        if len(wrapped) <= lines:
            return wrapped
    return textwrap.wrap(
        f"{sentences[0].rstrip('.')}." if words else "",
        _LETTERS,
        max_lines=lines,
        placeholder=" …",
    )


def draw_foot(pen: Pen, y: float, words: str, *, invented: bool) -> None:
    """A line of small print, and whether the data are invented."""
    pen.text(LEFT - 10, y, words, 10, pen.palette.soft)
    if invented:
        pen.text(RIGHT + 10, y, "Invented data.", 10, pen.palette.ink, bold=True, across="right")


def round_step(least: float) -> float:
    """1, 2 or 5 times a power of ten: the smallest that is no less."""
    size = 10.0 ** math.floor(math.log10(least))
    return next(size * m for m in (1.0, 2.0, 5.0, 10.0) if size * m >= least * (1.0 - 1e-9))
