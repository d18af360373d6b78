"""Two surveys of one oscillator over each other, and what moved by more than its uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from pitchwright.errors import InputError
from pitchwright.pictures.chart_paper import LEFT, WIDTH, draw_foot, draw_head
from pitchwright.pictures.faces import text_width
from pitchwright.pictures.figures import signed
from pitchwright.pictures.note_chart import (
    EndName,
    Frame,
    Style,
    draw_grid,
    draw_keyboard,
    draw_series,
    name_ends,
)
from pitchwright.pictures.palette import Theme
from pitchwright.pictures.pen import Pen, blank_canvas, finished_svg, plain_line
from pitchwright.pictures.scale import strip
from pitchwright.pictures.shown import CurveShown, Moved, moved
from pitchwright.units import note_name

__all__ = ["difference_sentence", "difference_svg"]

HEIGHT: Final = 660.0
_BOTH: Final = (150.0, 340.0)
_APART: Final = (396.0, 546.0)
_RIGHT: Final = 830.0


def difference_sentence(found: Sequence[Moved]) -> str:
    """What moved, in one sentence."""
    certain = [one for one in found if one.certain]
    if not certain:
        return f"Nothing moved for certain at any of {len(found)} notes."
    most = max(certain, key=lambda one: abs(one.cents))
    figure = f"{signed(most.cents, 1)} ± {max(most.expanded_cents, 0.1):.1f} cents"
    return (
        f"Moved at {len(certain)} of {len(found)} notes, most at {note_name(most.note)}: {figure}."
    )


def difference_svg(
    then: CurveShown,
    now: CurveShown,
    *,
    then_words: str,
    now_words: str,
    invented: bool = False,
    theme: Theme = "system",
) -> str:
    """Draw two surveys over each other and below them the difference, as SVG.

    Parameters
    ----------
    then, now
        The earlier and the later survey of one oscillator, against the same target.
    then_words, now_words
        What they are: “as found” and “as left”, or two dates.
    invented
        Whether the data are invented; the chart then says so.
    theme
        Light, dark, or whichever the system that shows it prefers.

    Raises
    ------
    InputError
        Where they have no note in common.
    """
    found = moved(then, now)
    if not found:
        raise InputError(
            "The two surveys have no note in common", now.name[:60], "Survey the same notes again"
        )
    pen = blank_canvas(WIDTH, HEIGHT)
    ink, said = pen.palette, difference_sentence(found)
    then_words, now_words = plain_line(then_words), plain_line(now_words)
    draw_head(pen, now.name, f"{then_words} and {now_words}", said)
    notes = [one.note for curve in (then, now) for one in curve.notes]
    low, high = strip(notes)
    cents = [one.cents for curve in (then, now) for one in curve.notes]
    top = _frame(low, high, cents, now.tolerance_cents, _BOTH)
    draw_grid(pen, top, "cents from the target", band=now.tolerance_cents, steps=5)
    names = []
    for curve, words, style in (
        (then, then_words, Style(ink.soft, "s", (4, 3))),
        (now, now_words, Style(ink.strong, "o")),
    ):
        draw_series(pen, top, [o.note for o in curve.notes], [o.cents for o in curve.notes], style)
        names.append(EndName(words, top.y(curve.notes[-1].cents), style.colour))
    name_ends(pen, top, names, 12.0)
    ends = [o.cents + way * o.expanded_cents for o in found for way in (1.0, -1.0)]
    below = _frame(low, high, ends, 0.2, _APART)
    draw_grid(pen, below, f"cents moved: {now_words} minus {then_words}", steps=4)
    _draw_moved(pen, below, found)
    draw_keyboard(pen, below, _APART[1] + 10.0)
    _draw_key(pen)
    draw_foot(pen, HEIGHT - 14.0, "Bars: what covers 95 %.", invented=invented)
    more = ", ".join(
        f"{signed(one.cents)} ± {one.expanded_cents:.2f} at {note_name(one.note)}" for one in found
    )
    return finished_svg(pen, plain_line(f"{now.name}: {said}"), f"Cents moved: {more}.", theme)


def _frame(
    low: float, high: float, cents: Sequence[float], least: float, place: tuple[float, float]
) -> Frame:
    top, bottom = max(*cents, 1.4 * least), min(*cents, -1.4 * least)
    room = 0.08 * (top - bottom)
    return Frame(low, high, bottom - room, top + room, *place, LEFT, _RIGHT)


def _draw_moved(pen: Pen, frame: Frame, found: Sequence[Moved]) -> None:
    ink = pen.palette
    for one in found:
        x, y = frame.x(one.note), frame.y(one.cents)
        ends = [frame.y(one.cents + way * one.expanded_cents) for way in (1.0, -1.0)]
        colour = ink.doubt if one.certain else ink.soft
        pen.line([x, x], ends, colour, 1.5, z=3.0)
        fill = colour if one.certain else ink.paper
        pen.marks([x], [y], "o", 7.0, fill, edge=colour, edge_width=1.4, z=4.0)


def _draw_key(pen: Pen) -> None:
    ink, y, x = pen.palette, HEIGHT - 38.0, LEFT - 4.0
    for fill, edge, words in (
        (ink.doubt, ink.doubt, "moved by more than its uncertainty"),
        (ink.paper, ink.soft, "no more than its uncertainty"),
    ):
        pen.marks([x], [y], "o", 7.0, fill, edge=edge, edge_width=1.4)
        pen.text(x + 12, y + 4, words, 11, ink.soft)
        x += 12 + text_width(words, 11) + 28
