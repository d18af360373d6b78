"""All oscillators on one chart over the keyboard, how far they agree, and how every pair beats."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from pitchwright.ensemble import Overview, PairOff
from pitchwright.ensemble.overview import seconds_per_beat
from pitchwright.pictures.chart_paper import LEFT, RIGHT, WIDTH, cut, draw_foot, draw_head
from pitchwright.pictures.faces import text_width
from pitchwright.pictures.note_chart import (
    EndName,
    Frame,
    draw_grid,
    draw_keyboard,
    draw_series,
    name_ends,
    styles,
)
from pitchwright.pictures.palette import Theme
from pitchwright.pictures.pen import Pen, blank_canvas, finished_svg, plain_line
from pitchwright.pictures.placing import Box
from pitchwright.pictures.scale import strip
from pitchwright.tracking import CurveEntry
from pitchwright.units import note_name, ratio_of_cents

__all__ = ["ensemble_svg"]

_CURVES_RIGHT: Final = 836.0
_TOP, _BOTTOM = 172.0, 412.0
_KEYS: Final = 422.0
_ROW: Final = 20.0
_MOST_PAIRS: Final = 28
_MOST_NOTES: Final = 9


def ensemble_svg(
    name: str,
    curves: Mapping[str, Sequence[CurveEntry]],
    glance: Overview,
    *,
    conditions: str = "",
    invented: bool = False,
    theme: Theme = "system",
) -> str:
    """Draw the instrument at a glance as SVG.

    Parameters
    ----------
    name
        The instrument.
    curves
        Tracking curves by oscillator, as ``glance`` was made from.
    glance
        What they are to each other.
    conditions
        One line about where and when; may be empty.
    invented
        Whether the data are invented; the chart then says so.
    theme
        Light, dark, or whichever the system that shows it prefers.
    """
    pairs = sorted(glance.pairs, key=lambda pair: -pair.worst_hz)[:_MOST_PAIRS]
    beats_top = _KEYS + 34.0 + 88.0
    height = beats_top + _ROW * len(pairs) + 62.0
    pen = blank_canvas(WIDTH, height)
    said = glance.sentences[0]
    tolerance = glance.reach.tolerance_cents
    kicker = f"{len(curves)} oscillators, cents from A4 = {_a4_hz(glance):g} Hz"
    if conditions:
        kicker += f" · {conditions}"
    draw_head(pen, name, kicker, said, f"{glance.sentences[2]} {glance.sentences[-1]}")
    frame = _frame(curves, glance, tolerance)
    draw_grid(pen, frame, "cents")
    _draw_together(pen, frame, glance, tolerance)
    _draw_curves(pen, frame, curves)
    draw_keyboard(pen, frame, _KEYS)
    _draw_reach(pen, frame, glance)
    _draw_beats(pen, frame, pairs, glance, beats_top)
    left_out = len(glance.pairs) - len(pairs)
    more = f" {left_out} slower pairs are not shown." if left_out else ""
    draw_foot(
        pen,
        height - 18.0,
        "Where a bar is seen at a point, it covers 95 %; else the point does." + more,
        invented=invented,
    )
    words = [plain_line(sentence) for sentence in glance.sentences]
    if invented:
        words.append("The data are invented.")
    return finished_svg(pen, plain_line(f"{name}: {said}"), " ".join(words), theme)


def _a4_hz(glance: Overview) -> float:
    """The pitch that the curves are measured against."""
    return round(glance.reference_hz / ratio_of_cents(glance.reference_cents), 3)


def _frame(curves: Mapping[str, Sequence[CurveEntry]], glance: Overview, tolerance: float) -> Frame:
    entries = [entry for curve in curves.values() for entry in curve]
    low, high = strip(entry.note for entry in entries)
    cents = [entry.cents for entry in entries]
    middle = glance.reference_cents
    most = max(*cents, middle + 2.0 * tolerance)
    least = min(*cents, middle - 2.0 * tolerance)
    room = 0.07 * (most - least)
    return Frame(low, high, least - room, most + room, _TOP, _BOTTOM, LEFT, _CURVES_RIGHT)


def _draw_together(pen: Pen, frame: Frame, glance: Overview, tolerance: float) -> None:
    """The band about the pitch that suits all best."""
    ink, middle = pen.palette, glance.reference_cents
    above, below = frame.y(middle + tolerance), frame.y(middle - tolerance)
    pen.box(Box(frame.left - 10, above, frame.right + 10, below), ink.band, z=0.6)
    y = frame.y(middle)
    pen.line(
        [frame.left - 10, frame.right + 10],
        [y, y],
        ink.soft,
        0.9,
        dashes=(1.5, 2.5),
        z=1.2,
    )
    words = f"A4 = {glance.reference_hz:.2f} Hz suits all best, band ±{tolerance:g}"
    pen.text(frame.right + 10, frame.head - 14, words, 11, ink.soft, across="right")


def _draw_curves(pen: Pen, frame: Frame, curves: Mapping[str, Sequence[CurveEntry]]) -> None:
    names = []
    for (name, entries), style in zip(
        curves.items(), styles(pen.palette, len(curves)), strict=True
    ):
        draw_series(
            pen, frame, [e.note for e in entries], [e.cents for e in entries], style, mark=6.0
        )
        for e in entries:
            top, bottom = frame.y(e.cents + e.expanded_cents), frame.y(e.cents - e.expanded_cents)
            if bottom - top > 7.0 and frame.head <= top and bottom <= frame.foot:
                x = frame.x(e.note)
                pen.line([x, x], [top, bottom], style.colour, 1.1, z=3.8)
        last = entries[-1]
        y = frame.y(min(max(last.cents, frame.least), frame.most))
        names.append(EndName(cut(plain_line(name), 16), y, style.colour))
    name_ends(pen, frame, names, 12.5)


def _draw_reach(pen: Pen, frame: Frame, glance: Overview) -> None:
    ink, y, found = pen.palette, _KEYS + 34.0 + 36.0, glance.reach
    first, last = frame.x(glance.common_notes[0]), frame.x(glance.common_notes[-1])
    pen.line([first, last], [y, y], ink.rule, 1.0, z=2.0)
    within = f"all within ±{found.tolerance_cents:g}"
    if found.low is None or found.high is None:
        words = f"{within}: no note for certain"
        x = 0.5 * (first + last)
    else:
        left, right = frame.x(found.low), frame.x(found.high)
        if left == right:
            left, right = left - 3.0, right + 3.0
        pen.line([left, right], [y, y], ink.within, 5.0, z=3.0, cap="butt")
        for end in (left, right):
            pen.line([end, end], [y - 6, y + 6], ink.within, 1.8, z=3.0, cap="butt")
        to = "" if found.low == found.high else f" to {note_name(found.high)}"
        words = f"{within}: {note_name(found.low)}{to}"
        x = 0.5 * (left + right)
    half = 0.5 * text_width(words, 11) + 7.0
    x = min(max(x, frame.left - 10 + half), frame.right + 10 - half)
    pen.box(Box(x - half, y - 9, x + half, y + 9), ink.paper, z=4.0)
    pen.text(x, y + 4, words, 11, ink.ink, bold=found.low is not None, across="center")


def _draw_beats(
    pen: Pen, frame: Frame, pairs: Sequence[PairOff], glance: Overview, top: float
) -> None:
    """Every pair a row, every note a column, below its key."""
    ink = pen.palette
    notes = list(glance.common_notes)
    if len(notes) > _MOST_NOTES:
        notes = [note for note in notes if note % 12.0 == 0.0] or notes[:: len(notes) // 8]
    pen.text(LEFT - 22, top - 16, "beats a second, or seconds a beat (s), by pair", 11, ink.soft)
    fastest = max(pairs, key=lambda pair: pair.worst_hz)
    for row, pair in enumerate(pairs):
        y = top + _ROW * row + 6.0
        pen.line([LEFT - 22, RIGHT + 10], [y + 6.0, y + 6.0], ink.rule, 0.6, z=0.8)
        for note in notes:
            beat_hz = pair.beats_hz[pair.notes.index(note)]
            worst = pair is fastest and note == pair.worst_note
            words = _beat(beat_hz)
            if worst:
                half = 0.5 * text_width(words, 11.5) + 5.0
                x = frame.x(note)
                pen.box(Box(x - half, y - 11, x + half, y + 4), ink.paper, ink.doubt, 1.2, z=2.0)
            pen.text(
                frame.x(note),
                y,
                words,
                11.5,
                ink.ink if beat_hz >= 1.0 else ink.soft,
                bold=worst,
                across="center",
            )
        both = cut(plain_line(f"{pair.first}, {pair.second}"), 22)
        pen.text(frame.right + 32, y, both, 11, ink.ink)


def _beat(beat_hz: float) -> str:
    if beat_hz >= 1.0:
        return f"{beat_hz:.1f}"
    return "none" if beat_hz < 0.002 else seconds_per_beat(beat_hz)
