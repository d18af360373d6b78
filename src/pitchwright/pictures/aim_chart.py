"""Aim and pivot: an error curve before the moves and after each of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from pitchwright.pictures.chart_paper import draw_head
from pitchwright.pictures.faces import text_width
from pitchwright.pictures.figures import signed
from pitchwright.pictures.note_chart import Frame, Style, draw_grid, draw_series
from pitchwright.pictures.palette import Theme
from pitchwright.pictures.pen import Pen, blank_canvas, finished_svg
from pitchwright.pictures.placing import Box
from pitchwright.units import note_name, note_of_cv

__all__ = ["aim_svg"]

_WIDTH, _HEIGHT = 760.0, 520.0
_TOP, _BOTTOM, _LEFT, _RIGHT = 150.0, 440.0, 84.0, 690.0
_WORDS: Final = ("as found", "after the scale move", "after the base move")


def aim_svg(
    cv_v: Sequence[float],
    found: Sequence[float],
    scaled: Sequence[float],
    based: Sequence[float],
    theme: Theme = "system",
) -> str:
    """Draw cents over volts as found, after the scale move and after the base move, as SVG.

    Parameters
    ----------
    cv_v
        Volts, the pivot first and the note that is listened to last.
    found, scaled, based
        Cents from the target at each.
    theme
        Light, dark, or whichever the system that shows it prefers.
    """
    pen = blank_canvas(_WIDTH, _HEIGHT)
    ink = pen.palette
    said = f"Turn scale until the top note reads {signed(scaled[-1], 0)} cents, then base to zero."
    draw_head(pen, "Aim and pivot", "cents from the target, at every half volt", said)
    every = (*found, *scaled, *based)
    room = 0.1 * (max(every) - min(every))
    frame = Frame(
        cv_v[0], cv_v[-1], min(every) - room, max(every) + room, _TOP, _BOTTOM, _LEFT, _RIGHT
    )
    draw_grid(pen, frame, "cents", keys=False)
    for volts in range(int(cv_v[0]), int(cv_v[-1]) + 1):
        x = frame.x(volts)
        pen.line([x, x], [_TOP, _BOTTOM + 6], ink.rule, 0.8, z=0.8)
        words = f"{volts} V, {note_name(round(note_of_cv(volts)))}"
        pen.text(x, _BOTTOM + 22, words, 11, ink.soft, across="center")
    styles = (
        Style(ink.strong, "o"),
        Style(ink.doubt, "s", (5, 2)),
        Style(ink.within, "^", (2, 2)),
    )
    x = _LEFT - 10
    for style, words, cents in zip(styles, _WORDS, (found, scaled, based), strict=True):
        draw_series(pen, frame, cv_v, cents, style, mark=6.5)
        y = _HEIGHT - 28.0
        pen.line([x, x + 30], [y, y], style.colour, 1.7, dashes=style.dashes)
        pen.marks([x + 15], [y], style.marker, 6.5, style.colour)
        pen.text(x + 38, y + 4, words, 12, ink.ink)
        x += 38 + text_width(words, 12) + 26
    _point(pen, frame, cv_v[-1], scaled[-1], f"aim: {signed(scaled[-1], 0)} cents", 22.0)
    _point(pen, frame, cv_v[0], found[0], f"pivot: {cv_v[0]:g} V stays", 24.0)
    more = f"As found {signed(found[-1] - found[-2])} cents in half a volt."
    return finished_svg(pen, said, more, theme)


def _point(pen: Pen, frame: Frame, volts: float, cents: float, words: str, below: float) -> None:
    """Words beside a point, with a thin line to it."""
    x, y, right = frame.x(volts), frame.y(cents), frame.x(volts) > 0.5 * _WIDTH
    to = x - 40.0 if right else x + 40.0
    pen.line([to, x], [y + 0.7 * below, y + 4.0], pen.palette.soft, 0.7)
    across = "right" if right else "left"
    half = text_width(words, 12, bold=True)
    left = to - 8.0 - half if right else to
    pen.box(
        Box(left, y + below - 12.0, left + half + 8.0, y + below + 5.0), pen.palette.paper, z=1.5
    )
    at = to - 4.0 if right else to + 4.0
    pen.text(at, y + below, words, 12, pen.palette.ink, bold=True, across=across)
