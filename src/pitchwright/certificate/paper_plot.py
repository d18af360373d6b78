"""The two curves of a certificate as SVG for paper: both together, and as left enlarged.

The type is the certificate's own. The same curves give the same bytes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final
from xml.sax.saxutils import escape

from pitchwright.certificate.contents import NoteResult, widest_inside
from pitchwright.pictures.figures import signed
from pitchwright.pictures.keyboard import keys
from pitchwright.pictures.palette import PAPER
from pitchwright.pictures.scale import strip, ticks
from pitchwright.tracking import Conformity
from pitchwright.units import note_name

__all__ = ["WIDTH", "Curve", "curves_svg"]

WIDTH: Final = 482.0
_LEFT, _RIGHT = 34.0, 478.0
_FACE: Final = "Libertinus Serif"
_ENLARGE_FROM: Final = 2.5
"""As left gets a picture of its own where the common one would show it so many times smaller."""


@dataclass(frozen=True, slots=True)
class Curve:
    """A curve: its notes, and the fitted model as a function of the note."""

    notes: tuple[NoteResult, ...]
    model: Callable[[float], float]


@dataclass(frozen=True, slots=True)
class _Panel:
    """A plot's place and scale: notes to points across, cents to points down."""

    low: float
    high: float
    top: float
    bottom: float
    low_cents: float
    high_cents: float

    def x(self, note: float) -> float:
        return _LEFT + 8 + (note - self.low) / (self.high - self.low) * (_RIGHT - _LEFT - 16)

    def y(self, cents: float) -> float:
        share = (cents - self.low_cents) / (self.high_cents - self.low_cents)
        return self.bottom - share * (self.bottom - self.top)

    def shows(self, cents: float) -> bool:
        return self.low_cents <= cents <= self.high_cents


@dataclass(slots=True)
class _Svg:
    """Marks in points, y downwards."""

    parts: list[str] = field(default_factory=list)

    def line(
        self,
        points: Sequence[tuple[float, float]],
        colour: str,
        width: float,
        *,
        dashes: str = "",
        cap: str = "butt",
    ) -> None:
        path = "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in points)
        dash = f' stroke-dasharray="{dashes}"' if dashes else ""
        self.parts.append(
            f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{width:g}" '
            f'stroke-linecap="{cap}" stroke-linejoin="round"{dash}/>'
        )

    def box(
        self, left: float, top: float, right: float, bottom: float, fill: str, edge: str = ""
    ) -> None:
        stroke = f' stroke="{edge}" stroke-width="0.4"' if edge else ""
        self.parts.append(
            f'<rect x="{left:.2f}" y="{top:.2f}" width="{right - left:.2f}" '
            f'height="{bottom - top:.2f}" fill="{fill}"{stroke}/>'
        )

    def dot(self, x: float, y: float, size: float, fill: str, edge: str) -> None:
        self.parts.append(
            f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{size:g}" fill="{fill}" stroke="{edge}" '
            'stroke-width="0.9"/>'
        )

    def text(
        self,
        x: float,
        y: float,
        words: str,
        colour: str,
        *,
        size: float = 8.0,
        anchor: str = "start",
        bold: bool = False,
    ) -> None:
        weight = ' font-weight="bold"' if bold else ""
        self.parts.append(
            f'<text x="{x:.2f}" y="{y:.2f}" font-family="{_FACE}" font-size="{size:g}" '
            f'fill="{colour}" text-anchor="{anchor}"{weight}>{escape(words)}</text>'
        )


def curves_svg(found: Curve | None, left: Curve | None, tolerance_cents: float) -> str:
    """Draw the curves; at least one of them must be given.

    Parameters
    ----------
    found, left
        As found (crosses, dashed) and as left (dots, solid line).
    tolerance_cents
        Half width of the band.
    """
    both = [curve for curve in (found, left) if curve is not None]
    notes = [result.note for curve in both for result in curve.notes]
    low, high = strip(notes)
    whole = _extent(both, tolerance_cents)
    close = _extent([left], tolerance_cents) if left is not None else whole
    enlarged = found is not None and whole[1] - whole[0] > _ENLARGE_FROM * (close[1] - close[0])
    svg = _Svg()
    _key(svg, found is not None, left is not None, tolerance_cents)
    bottom = 132.0 if enlarged else 176.0
    first = _Panel(low, high, 22.0, bottom, *whole)
    panels = [first]
    _panel(svg, first, found, left, tolerance_cents, small_left=enlarged)
    if enlarged:
        second = _Panel(low, high, bottom + 24.0, bottom + 116.0, *close)
        svg.text(
            _LEFT, second.top - 7.0, "as left, enlarged", PAPER.strong, bold=True, anchor="start"
        )
        _panel(svg, second, None, left, tolerance_cents)
        panels.append(second)
    foot = panels[-1].bottom + 5.0
    _keyboard(svg, first, foot)
    height = _reach(svg, first, foot + 40.0, (left or both[0]).notes, tolerance_cents)
    body = "".join(svg.parts)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH:g}" height="{height:g}" '
        f'viewBox="0 0 {WIDTH:g} {height:g}">{body}</svg>'
    )


def _extent(curves: Sequence[Curve], tolerance_cents: float) -> tuple[float, float]:
    results = [result for curve in curves for result in curve.notes]
    # One very unsure note must not flatten the others.
    spread = [(r.cents, min(r.expanded_cents, abs(r.cents) + tolerance_cents)) for r in results]
    top = max(1.4 * tolerance_cents, *(cents + u for cents, u in spread))
    bottom = min(-1.4 * tolerance_cents, *(cents - u for cents, u in spread))
    room = 0.06 * (top - bottom)
    return bottom - room, top + room


def _key(svg: _Svg, found: bool, left: bool, tolerance_cents: float) -> None:
    x, y = _LEFT, 8.0
    svg.text(_LEFT - 6, y + 2.8, "cents", PAPER.soft, anchor="end")
    if found:
        svg.line([(x, y), (x + 22, y)], PAPER.soft, 0.8, dashes="3 2")
        _cross(svg, x + 11, y, PAPER.soft)
        svg.text(x + 27, y + 2.8, "as found", PAPER.soft)
        x += 74
    if left:
        svg.line([(x, y), (x + 22, y)], PAPER.strong, 1.0)
        svg.dot(x + 11, y, 2.4, PAPER.strong, PAPER.paper)
        svg.text(x + 27, y + 2.8, "as left", PAPER.strong, bold=True)
        x += 68
    svg.line([(x + 4, y - 5), (x + 4, y + 5)], PAPER.soft, 1.0)
    svg.text(x + 11, y + 2.8, "expanded uncertainty U", PAPER.soft)
    x += 112
    svg.box(x, y - 4, x + 18, y + 4, PAPER.band)
    svg.text(
        x + 23,
        y + 2.8,
        f"tolerance ±{tolerance_cents:g} cent{'' if tolerance_cents == 1.0 else 's'}",
        PAPER.soft,
    )
    x += 112
    svg.line([(x, y), (x + 18, y)], PAPER.soft, 1.0)
    svg.text(x + 23, y + 2.8, "lines: fitted model", PAPER.soft)


def _panel(
    svg: _Svg,
    panel: _Panel,
    found: Curve | None,
    left: Curve | None,
    tolerance_cents: float,
    *,
    small_left: bool = False,
) -> None:
    svg.box(_LEFT, panel.y(tolerance_cents), _RIGHT, panel.y(-tolerance_cents), PAPER.band)
    amounts, decimals = ticks(panel.low_cents, panel.high_cents, 5)
    for at in amounts:
        y = panel.y(at)
        colour, width = (PAPER.soft, 0.7) if at == 0.0 else (PAPER.rule, 0.5)
        svg.line([(_LEFT, y), (_RIGHT, y)], colour, width)
        svg.text(_LEFT - 6, y + 2.8, signed(at, decimals), PAPER.soft, anchor="end")
    for note in range(int(panel.low), int(panel.high) + 1):
        if note % 12 == 0:
            svg.line([(panel.x(note), panel.top), (panel.x(note), panel.bottom)], PAPER.rule, 0.5)
    if found is not None:
        _model(svg, panel, found, PAPER.soft, 0.8, "3 2")
        for result in found.notes:
            _bar(svg, panel, result, PAPER.soft, 0.8)
            _cross(svg, panel.x(result.note), panel.y(result.cents), PAPER.soft)
    if left is not None:
        _model(svg, panel, left, PAPER.strong, 1.0)
        crowded = len(left.notes) > 45
        for result in left.notes:
            # A doubted note is hollow; the table says why.
            fill = PAPER.paper if result.doubt else PAPER.strong
            _bar(svg, panel, result, PAPER.strong, 1.0)
            size = 1.5 if crowded or small_left else 2.4
            edge = PAPER.strong if result.doubt else PAPER.paper
            svg.dot(panel.x(result.note), panel.y(result.cents), size, fill, edge)


def _model(
    svg: _Svg, panel: _Panel, curve: Curve, colour: str, width: float, dashes: str = ""
) -> None:
    if len(curve.notes) < 2:
        return
    first, last = curve.notes[0].note, curve.notes[-1].note
    steps = max(round(2 * (last - first)), 1)
    run: list[tuple[float, float]] = []
    for i in range(steps + 1):
        note = first + (last - first) * i / steps
        cents = curve.model(note)
        if panel.shows(cents):
            run.append((panel.x(note), panel.y(cents)))
        if run and (i == steps or not panel.shows(cents)):
            if len(run) > 1:
                svg.line(run, colour, width, dashes=dashes)
            run = []


def _bar(svg: _Svg, panel: _Panel, result: NoteResult, colour: str, width: float) -> None:
    high = min(result.cents + result.expanded_cents, panel.high_cents)
    low = max(result.cents - result.expanded_cents, panel.low_cents)
    x = panel.x(result.note)
    svg.line([(x, panel.y(high)), (x, panel.y(low))], colour, width)
    if panel.y(low) - panel.y(high) > 9.0:  # caps only where there is a bar to see
        for end in (high, low):
            svg.line([(x - 1.8, panel.y(end)), (x + 1.8, panel.y(end))], colour, 0.8)


def _cross(svg: _Svg, x: float, y: float, colour: str) -> None:
    for way in (1.0, -1.0):
        svg.line([(x - 2.2, y - 2.2 * way), (x + 2.2, y + 2.2 * way)], colour, 0.9)


def _keyboard(svg: _Svg, panel: _Panel, top: float) -> None:
    low, high = int(panel.low), int(panel.high)
    for key in keys(low, high):
        foot = top + (11.0 if key.black else 18.0)
        fill = PAPER.black_key if key.black else PAPER.white_key
        svg.box(panel.x(key.left), top, panel.x(key.right), foot, fill, PAPER.key_edge)
    for note in range(low, high + 1):
        if note % 12 == 0:
            svg.text(
                panel.x(note),
                top + 27.0,
                note_name(note),
                PAPER.ink if note == 60 else PAPER.soft,
                anchor="middle",
                bold=note == 60,
            )


def _reach(
    svg: _Svg, panel: _Panel, y: float, notes: tuple[NoteResult, ...], tolerance_cents: float
) -> float:
    """Draw the run of notes inside the tolerance; the height that the whole picture then needs."""
    run = widest_inside(notes)
    ends = (panel.x(notes[0].note), panel.x(notes[-1].note))
    svg.line([(ends[0], y), (ends[1], y)], PAPER.rule, 0.8)
    if run:
        left, right = panel.x(run[0].note), panel.x(run[-1].note)
        if len(run) == 1:
            left, right = left - 2.0, right + 2.0
        svg.line([(left, y), (right, y)], PAPER.within, 3.0)
        for end in (left, right):
            svg.line([(end, y - 4.0), (end, y + 4.0)], PAPER.within, 1.2)
    for result in notes:
        if result.standing is Conformity.OUTSIDE:
            _cross(svg, panel.x(result.note), y, PAPER.doubt)
        elif result.standing is Conformity.UNDECIDED:
            svg.dot(panel.x(result.note), y, 2.0, PAPER.paper, PAPER.doubt)
    svg.text(
        (ends[0] + ends[1]) / 2.0,
        y + 14.0,
        _reach_words(run, notes, tolerance_cents),
        PAPER.ink,
        anchor="middle",
    )
    return y + 19.0


def _reach_words(
    run: tuple[NoteResult, ...], notes: tuple[NoteResult, ...], tolerance_cents: float
) -> str:
    within = f"reach at ±{tolerance_cents:g} cent{'' if tolerance_cents == 1.0 else 's'}"
    if not run:
        words = f"{within}: no note for certain"
    elif len(run) == 1:
        words = f"{within}: {note_name(run[0].note)} only"
    else:
        words = f"{within}: {note_name(run[0].note)} to {note_name(run[-1].note)}"
    standings = {result.standing for result in notes}
    if Conformity.OUTSIDE in standings:
        words += "   × outside"
    if Conformity.UNDECIDED in standings:
        words += "   ○ undecided"
    return words
