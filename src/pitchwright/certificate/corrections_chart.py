"""Per-note corrections: every note's error today, and what is predicted to remain."""

from __future__ import annotations

from typing import Final

from pitchwright.certificate.corrections import CorrectedNote, Corrections
from pitchwright.certificate.note_chart import (
    LEFT,
    RIGHT,
    WIDTH,
    Frame,
    Style,
    draw_foot,
    draw_grid,
    draw_head,
    draw_keyboard,
    draw_series,
)
from pitchwright.certificate.palette import Theme
from pitchwright.certificate.pen import Pen, blank_canvas, finished_svg, plain_line
from pitchwright.certificate.placing import text_width

__all__ = ["corrections_svg"]

HEIGHT: Final = 594.0
_TOP, _BOTTOM = 186.0, 472.0
_KEYS: Final = 484.0


def corrections_svg(
    name: str,
    table: Corrections,
    *,
    conditions: str = "",
    invented: bool = False,
    theme: Theme = "system",
) -> str:
    """Draw the errors before and after correction, note by note, as SVG.

    Parameters
    ----------
    name
        The oscillator.
    table
        Its corrections.
    conditions
        One line about where and when; may be empty.
    invented
        Whether the data are invented; the chart then says so.
    theme
        Light, dark, or whichever the system that shows it prefers.
    """
    pen = blank_canvas(WIDTH, HEIGHT, theme)
    said = table.sentences[1]
    kicker = "per-note corrections"
    if conditions:
        kicker += f" · {conditions}"
    more = " ".join((table.sentences[0], *table.sentences[2:]))
    draw_head(pen, name, kicker, said, more)
    known = [one for one in table.notes if one.error_cents is not None]
    frame = _frame(known)
    draw_grid(pen, frame, "cents")
    _draw_notes(pen, frame, known)
    _draw_key(pen, frame)
    draw_keyboard(pen, frame, _KEYS)
    draw_foot(
        pen,
        HEIGHT - 18.0,
        "Bars: what covers 95 % of a note in use, wander included.",
        invented=invented,
    )
    words = [plain_line(sentence) for sentence in table.sentences]
    if invented:
        words.append("The data are invented.")
    return finished_svg(pen, plain_line(f"{name}: {said}"), " ".join(words), theme)


def _frame(known: list[CorrectedNote]) -> Frame:
    low, high = known[0].note, known[-1].note
    if high - low < 24:
        low, high = low - (24 - high + low) // 2, high + (25 - high + low) // 2
    cents = [one.error_cents or 0.0 for one in known]
    bars = [2.0 * (one.u_predicted_cents or 0.0) for one in known]
    size = max(map(abs, cents))
    far = min(max(bars), size)
    most, least = max(*cents, far, 0.2), min(*cents, -far, -0.2)
    room = 0.08 * (most - least)
    return Frame(low, high, least - room, most + room, _TOP, _BOTTOM)


def _draw_notes(pen: Pen, frame: Frame, known: list[CorrectedNote]) -> None:
    ink = pen.palette
    played = [one for one in known if one.how != "between"]
    for one in known:
        error, left, u = one.error_cents or 0.0, one.predicted_cents or 0.0, one.u_predicted_cents
        x = frame.x(one.note)
        if one.how != "left alone":
            # From where it was to where it is predicted: the correction itself.
            pen.line([x, x], [frame.y(error), frame.y(left)], ink.rule, 2.4, zorder=1.5)
        top = frame.y(min(left + 2.0 * (u or 0.0), frame.most))
        bottom = frame.y(max(left - 2.0 * (u or 0.0), frame.least))
        bar = ink.strong if one.how != "left alone" else ink.doubt
        pen.line([x, x], [top, bottom], bar, 1.0 if one.how == "between" else 1.6, zorder=3.0)
    draw_series(
        pen,
        frame,
        [one.note for one in played],
        [one.error_cents or 0.0 for one in played],
        Style(ink.faint, "x"),
        width=0.0,
        mark=0.0,
    )
    for one in known:
        x, error, left = frame.x(one.note), one.error_cents or 0.0, one.predicted_cents or 0.0
        small = one.how == "between"
        if one.how != "left alone":
            pen.line(
                [x],
                [frame.y(error)],
                ink.faint,
                0.0,
                marker="x",
                markersize=3.6 if small else 6.5,
                markeredgewidth=1.0 if small else 1.6,
                zorder=3.5,
            )
        colour = ink.doubt if one.how == "left alone" else ink.strong
        pen.line(
            [x],
            [frame.y(left)],
            colour,
            0.0,
            marker="D" if one.how == "left alone" else "o",
            markersize=3.4 if small else 6.2,
            markerfacecolor=pen.palette.paper if one.how == "left alone" else colour,
            markeredgecolor=colour,
            markeredgewidth=1.4 if one.how == "left alone" else 0.0,
            zorder=4.0,
        )


def _draw_key(pen: Pen, frame: Frame) -> None:
    ink, y, x = pen.palette, frame.head - 18.0, LEFT + 60.0
    for marker, colour, words in (
        ("x", ink.faint, "today"),
        ("o", ink.strong, "predicted after correction"),
        ("D", ink.doubt, "left alone: correcting would gain nothing"),
    ):
        pen.line(
            [x],
            [y],
            colour,
            0.0,
            marker=marker,
            markersize=6.2,
            markerfacecolor=ink.paper if marker == "D" else colour,
            markeredgecolor=colour,
            markeredgewidth=1.5,
        )
        pen.text(x + 12, y + 4, words, 11, ink.soft)
        x += 12 + text_width(words, 11) + 24
    pen.text(RIGHT + 10, y + 4, "small marks: notes not played", 11, ink.soft, across="right")
