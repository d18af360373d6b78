"""The whole instrument in one glance: a row an oscillator, and all curves over each other."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from pitchwright.pictures.chart_paper import draw_foot, draw_head
from pitchwright.pictures.faces import fitted
from pitchwright.pictures.figures import plural
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
from pitchwright.pictures.shown import CurveShown, NoteShown
from pitchwright.tracking import Conformity, stands

__all__ = ["glance_svg", "overlay_svg"]

WIDTH: Final = 1240.0
_TOP: Final = 104.0
_ROW: Final = 62.0
_FEW: Final = 8
"""So many rows go under each other; more stand in two columns."""
_FAR: Final = 2.5
"""An oscillator this many times as far off as the middle one is cut, with arrows."""


def glance_svg(
    name: str,
    curves: Sequence[CurveShown],
    *,
    conditions: str = "",
    invented: bool = False,
    theme: Theme = "system",
) -> str:
    """Draw every oscillator as a small curve with worst note and reach, the worst first, as SVG.

    Sixteen fit a laptop's screen (1280 × 800). All curves have the same scale.

    Parameters
    ----------
    name
        The instrument.
    curves
        At least one.
    conditions
        One line about where and when; may be empty.
    invented
        Whether the data are invented; the chart then says so.
    theme
        Light, dark, or whichever the system that shows it prefers.
    """
    ordered = sorted(curves, key=lambda curve: -abs(curve.worst.cents))
    columns = 1 if len(ordered) <= _FEW else 2
    rows = -(-len(ordered) // columns)
    height = _TOP + _ROW * rows + 44.0
    pen = blank_canvas(WIDTH, height)
    half = _half(ordered)
    low, high = strip(one.note for curve in ordered for one in curve.notes)
    within = sum(map(_inside, ordered))
    first = ordered[0]
    said = f"Worst of {plural(len(ordered), 'oscillator')}: {first.name}, {first.worst.words}."
    kicker = f"each curve from −{half:g} to +{half:g} cents, the worst first"
    draw_head(pen, name, f"{kicker} · {conditions}" if conditions else kicker, said)
    room = (WIDTH - 68.0 - 36.0 * (columns - 1)) / columns
    for place, curve in enumerate(ordered):
        column, row = divmod(place, rows)
        left, top = 34.0 + column * (room + 36.0), _TOP + row * _ROW
        field = Frame(
            low, high, -half, half, top + 4.0, top + _ROW - 8.0, left + 214.0, left + room - 6.0
        )
        _draw_row(pen, curve, field, left, top)
    foot = "Band: the tolerance; lines down: every C. "
    foot += f"{within} of {len(ordered)} are within it at every note measured."
    draw_foot(pen, height - 14.0, foot, invented=invented, left=34.0)
    more = " ".join(
        f"{curve.name}: worst {curve.worst.words} cents, within ±{curve.tolerance_cents:g}: "
        f"{curve.reach}."
        for curve in ordered
    )
    return finished_svg(pen, plain_line(f"{name}: {said}"), plain_line(more), theme)


def _half(curves: Sequence[CurveShown]) -> float:
    """Half the height of all small curves in cents: one oscillator far off may not flatten all."""
    sizes = sorted(abs(curve.worst.cents) for curve in curves)
    far = _FAR * max(sizes[len(sizes) // 2], curves[0].tolerance_cents)
    return float(math.ceil(max(1.5 * curves[0].tolerance_cents, 1.08 * min(sizes[-1], far))))


def _draw_row(pen: Pen, curve: CurveShown, field: Frame, left: float, top: float) -> None:
    ink, tolerance = pen.palette, curve.tolerance_cents
    bottom = top + _ROW - 4.0
    right = field.right + 6.0
    pen.line([left, right], [bottom, bottom], ink.rule, 0.8, z=0.6)
    name = fitted(plain_line(curve.name), 14, 200.0, bold=True)
    pen.text(left, top + 18.0, name, 14, ink.ink, bold=True)
    pen.text(left, top + 34.0, f"worst {curve.worst.words}", 11.5, ink.ink)
    pen.text(left, top + 49.0, f"±{tolerance:g}: {curve.reach}", 11.5, ink.soft)
    band = Box(field.left - 6.0, field.y(tolerance), right, field.y(-tolerance))
    pen.box(band, ink.band, z=0.5)
    pen.line([field.left - 6.0, right], [field.y(0.0)] * 2, ink.soft, 0.8, z=1.0)
    for note in range(math.ceil(field.low), math.floor(field.high) + 1):
        if note % 12 == 0:
            pen.line([field.x(note)] * 2, [field.head, field.foot], ink.rule, 0.7, z=0.8)
    sure = [one for one in curve.notes if not one.doubt]
    if len(sure) > 1:
        x = [field.x(one.note) for one in sure]
        pen.line(x, [field.y(field.held(one.cents)) for one in sure], ink.strong, 1.4, z=3.0)
    for one in curve.notes:
        _draw_note(pen, field, one)


def _draw_note(pen: Pen, field: Frame, one: NoteShown) -> None:
    ink, x, y = pen.palette, field.x(one.note), field.y(field.held(one.cents))
    if not field.shows(one.cents):
        pen.marks([x], [y], "^" if one.cents > 0.0 else "v", 6.0, ink.strong, z=4.0)
        return
    ends = [field.y(field.held(one.cents + way * one.expanded_cents)) for way in (1.0, -1.0)]
    if ends[1] - ends[0] > 6.0:
        pen.line([x, x], ends, ink.doubt if one.doubt else ink.strong, 1.0, z=3.0)
    if one.doubt:
        pen.marks([x], [y], "D", 5.0, ink.paper, edge=ink.doubt, edge_width=1.4, z=4.0)
    else:
        pen.marks([x], [y], "o", 4.6, ink.strong, z=4.0)


def overlay_svg(
    name: str,
    curves: Sequence[CurveShown],
    *,
    conditions: str = "",
    invented: bool = False,
    theme: Theme = "system",
) -> str:
    """Draw all curves over each other in cents, each named at its right end, as SVG."""
    pen = blank_canvas(WIDTH, 700.0)
    low, high = strip(one.note for curve in curves for one in curve.notes)
    cents = [one.cents for curve in curves for one in curve.notes if not one.doubt]
    tolerance, half = max(curve.tolerance_cents for curve in curves), _half(curves)
    most, least = min(max(*cents, 1.5 * tolerance), half), max(min(*cents, -1.5 * tolerance), -half)
    room = 0.06 * (most - least)
    frame = Frame(low, high, least - room, most + room, 122.0, 590.0, 74.0, 1040.0)
    apart = max(cents) - min(cents)
    said = f"{plural(len(curves), 'oscillator')}, up to {apart:.1f} cents apart."
    draw_head(pen, name, conditions, said)
    draw_grid(pen, frame, "cents", band=tolerance)
    names = []
    for curve, style in zip(curves, styles(pen.palette, len(curves)), strict=True):
        sure = [one for one in curve.notes if not one.doubt] or list(curve.notes)
        draw_series(pen, frame, [o.note for o in sure], [o.cents for o in sure], style)
        last = fitted(plain_line(curve.name), 12, 140.0, bold=True)
        if not frame.shows(sure[-1].cents):
            last += " ▲" if sure[-1].cents > 0.0 else " ▼"
        names.append(EndName(last, frame.y(frame.held(sure[-1].cents)), style.colour))
    name_ends(pen, frame, names, 12.0)
    draw_keyboard(pen, frame, 602.0)
    draw_foot(
        pen,
        684.0,
        f"Band: the tolerance, ±{tolerance:g}. ▲ and ▼: beyond the picture.",
        invented=invented,
    )
    more = " ".join(f"{curve.name}: worst {curve.worst.words} cents." for curve in curves)
    return finished_svg(pen, plain_line(f"{name}: {said}"), plain_line(more), theme)


def _inside(curve: CurveShown) -> bool:
    """Whether every note is inside for certain."""
    return all(
        stands(one.cents, one.expanded_cents, curve.tolerance_cents) is Conformity.INSIDE
        for one in curve.notes
    )
