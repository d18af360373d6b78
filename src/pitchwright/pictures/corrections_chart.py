"""Per-note corrections: every note's error today, and what is predicted to remain."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, Protocol

from pitchwright.pictures.chart_paper import LEFT, RIGHT, WIDTH, draw_foot, draw_head
from pitchwright.pictures.faces import text_width
from pitchwright.pictures.note_chart import (
    Frame,
    draw_grid,
    draw_keyboard,
)
from pitchwright.pictures.palette import Theme
from pitchwright.pictures.pen import Mark, Pen, blank_canvas, finished_svg, plain_line
from pitchwright.pictures.scale import strip
from pitchwright.tracking.coverage import expanded_u

__all__ = ["NoteRow", "Table", "corrections_svg"]

HEIGHT: Final = 594.0
_TOP, _BOTTOM = 186.0, 472.0
_KEYS: Final = 484.0


class NoteRow(Protocol):
    """What the chart reads of one note; None where nothing is known of it."""

    @property
    def note(self) -> int:
        """MIDI note."""

    @property
    def error_cents(self) -> float | None:
        """Error today."""

    @property
    def predicted_cents(self) -> float | None:
        """What a correction leaves."""

    @property
    def u_predicted_cents(self) -> float | None:
        """Standard uncertainty of that."""

    @property
    def how(self) -> str:
        """“measured”, “between” or “left alone”."""


class Table(Protocol):
    """What the chart reads of a table of corrections."""

    @property
    def notes(self) -> Sequence[NoteRow]:
        """Every note."""

    @property
    def sentences(self) -> Sequence[str]:
        """What it comes to: what it is made of first, then what it is worth."""


def corrections_svg(
    name: str,
    table: Table,
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
    pen = blank_canvas(WIDTH, HEIGHT)
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


def _frame(known: list[NoteRow]) -> Frame:
    low, high = strip((known[0].note, known[-1].note))
    cents = [one.error_cents or 0.0 for one in known]
    bars = [expanded_u(one.u_predicted_cents or 0.0) for one in known]
    size = max(map(abs, cents))
    far = min(max(bars), size)
    most, least = max(*cents, far, 0.2), min(*cents, -far, -0.2)
    room = 0.08 * (most - least)
    return Frame(low, high, least - room, most + room, _TOP, _BOTTOM)


def _draw_notes(pen: Pen, frame: Frame, known: list[NoteRow]) -> None:
    """From where each note is to where it is predicted, marks by what was done to it."""
    ink = pen.palette
    corrected = [one for one in known if one.how != "left alone"]
    alone = [one for one in known if one.how == "left alone"]
    _upright(pen, frame, [(n.note, _error(n), _left(n)) for n in corrected], ink.rule, 2.4, 1.5)
    for how, colour, width in (
        ("between", ink.strong, 1.0),
        ("measured", ink.strong, 1.6),
        ("left alone", ink.doubt, 1.6),
    ):
        bars = [
            (n.note, _left(n) - 2.0 * _u(n), _left(n) + 2.0 * _u(n)) for n in known if n.how == how
        ]
        _upright(pen, frame, bars, colour, width, 3.0)
    for how, today, after in (("between", 3.6, 3.4), ("measured", 6.5, 6.2)):
        some = [n for n in corrected if n.how == how]
        x = [frame.x(n.note) for n in some]
        thin = 1.0 if how == "between" else 1.6
        pen.marks(
            x, [frame.y(_error(n)) for n in some], "x", today, ink.faint, edge_width=thin, z=3.5
        )
        pen.marks(
            x, [frame.y(_left(n)) for n in some], "o", after, ink.strong, edge=ink.strong, z=4.0
        )
    x = [frame.x(n.note) for n in alone]
    y = [frame.y(_left(n)) for n in alone]
    pen.marks(x, y, "D", 6.2, ink.paper, edge=ink.doubt, edge_width=1.4, z=4.0)


def _error(one: NoteRow) -> float:
    return one.error_cents or 0.0


def _left(one: NoteRow) -> float:
    return one.predicted_cents or 0.0


def _u(one: NoteRow) -> float:
    return one.u_predicted_cents or 0.0


def _upright(
    pen: Pen,
    frame: Frame,
    spans: list[tuple[int, float, float]],
    colour: str,
    width: float,
    z: float,
) -> None:
    """Upright lines, all in one mark: each from one amount to another."""
    x, y = [], []
    for note, start, end in spans:
        x += [frame.x(note), frame.x(note), math.nan]
        y += [frame.y(min(max(v, frame.least), frame.most)) for v in (start, end)] + [math.nan]
    pen.line(x, y, colour, width, z=z, cap="butt")


def _draw_key(pen: Pen, frame: Frame) -> None:
    ink, y, x = pen.palette, frame.head - 18.0, LEFT + 60.0
    keyed: tuple[tuple[Mark, str, str], ...] = (
        ("x", ink.faint, "today"),
        ("o", ink.strong, "predicted after correction"),
        ("D", ink.doubt, "left alone: correcting would gain nothing"),
    )
    for mark, colour, words in keyed:
        fill = ink.paper if mark == "D" else colour
        pen.marks([x], [y], mark, 6.2, fill, edge=colour, edge_width=1.5)
        pen.text(x + 12, y + 4, words, 11, ink.soft)
        x += 12 + text_width(words, 11) + 24
    pen.text(RIGHT + 10, y + 4, "small marks: notes not played", 11, ink.soft, across="right")
