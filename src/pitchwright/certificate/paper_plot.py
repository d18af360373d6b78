"""The two curves of a certificate as SVG for paper: both together, and as left enlarged.

The type is the certificate's own. The same curves give the same bytes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from pitchwright.certificate.contents import NoteResult, widest_inside
from pitchwright.pictures.figures import signed
from pitchwright.pictures.keyboard import keys
from pitchwright.pictures.pen import Dashes, Pen, finished_svg
from pitchwright.pictures.placing import Box
from pitchwright.pictures.scale import strip, ticks
from pitchwright.tracking import Conformity
from pitchwright.units import note_name

__all__ = ["WIDTH", "Curve", "curves_svg"]

WIDTH: Final = 482.0
_LEFT, _RIGHT = 34.0, 478.0
_FACE, _BREADTH = "Libertinus Serif", 0.75
_SIZE: Final = 8.0
_DASHED: Final = (3.75, 2.5)
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


def _line(
    pen: Pen,
    points: Sequence[tuple[float, float]],
    colour: str,
    width: float,
    dashes: Dashes = (),
) -> None:
    x, y = zip(*points, strict=True)
    pen.line(x, y, colour, width, dashes=dashes, cap="butt")


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
    pen = Pen(WIDTH, 0.0, face=_FACE, breadth=_BREADTH)
    _key(pen, found is not None, left is not None, tolerance_cents)
    bottom = 132.0 if enlarged else 176.0
    first = _Panel(low, high, 22.0, bottom, *whole)
    panels = [first]
    _panel(pen, first, found, left, tolerance_cents, small_left=enlarged)
    if enlarged:
        second = _Panel(low, high, bottom + 24.0, bottom + 116.0, *close)
        pen.text(_LEFT, second.top - 7.0, "as left, enlarged", _SIZE, pen.palette.strong, bold=True)
        _panel(pen, second, None, left, tolerance_cents)
        panels.append(second)
    foot = panels[-1].bottom + 5.0
    _keyboard(pen, first, foot)
    pen.height = _reach(pen, first, foot + 40.0, (left or both[0]).notes, tolerance_cents)
    return finished_svg(pen, "", "", "paper")


def _extent(curves: Sequence[Curve], tolerance_cents: float) -> tuple[float, float]:
    results = [result for curve in curves for result in curve.notes]
    # One very unsure note must not flatten the others.
    spread = [(r.cents, min(r.expanded_cents, abs(r.cents) + tolerance_cents)) for r in results]
    top = max(1.4 * tolerance_cents, *(cents + u for cents, u in spread))
    bottom = min(-1.4 * tolerance_cents, *(cents - u for cents, u in spread))
    room = 0.06 * (top - bottom)
    return bottom - room, top + room


def _key(pen: Pen, found: bool, left: bool, tolerance_cents: float) -> None:
    x, y = _LEFT, 8.0
    pen.text(_LEFT - 6, y + 2.8, "cents", _SIZE, pen.palette.soft, across="right")
    if found:
        _line(pen, [(x, y), (x + 22, y)], pen.palette.soft, 0.8, dashes=_DASHED)
        _cross(pen, x + 11, y, pen.palette.soft)
        pen.text(x + 27, y + 2.8, "as found", _SIZE, pen.palette.soft)
        x += 74
    if left:
        _line(pen, [(x, y), (x + 22, y)], pen.palette.strong, 1.0)
        pen.marks(
            [x + 11], [y], "o", 2 * 2.4, pen.palette.strong, edge=pen.palette.paper, edge_width=0.9
        )
        pen.text(x + 27, y + 2.8, "as left", _SIZE, pen.palette.strong, bold=True)
        x += 68
    _line(pen, [(x + 4, y - 5), (x + 4, y + 5)], pen.palette.soft, 1.0)
    pen.text(x + 11, y + 2.8, "expanded uncertainty U", _SIZE, pen.palette.soft)
    x += 106
    pen.box(Box(x, y - 4, x + 18, y + 4), pen.palette.band)
    pen.text(
        x + 23,
        y + 2.8,
        f"tolerance ±{tolerance_cents:g} cent{('' if tolerance_cents == 1.0 else 's')}",
        _SIZE,
        pen.palette.soft,
    )
    x += 100
    _line(pen, [(x, y), (x + 18, y)], pen.palette.soft, 1.0)
    pen.text(x + 23, y + 2.8, "lines: fitted model", _SIZE, pen.palette.soft)


def _panel(
    pen: Pen,
    panel: _Panel,
    found: Curve | None,
    left: Curve | None,
    tolerance_cents: float,
    *,
    small_left: bool = False,
) -> None:
    pen.box(
        Box(_LEFT, panel.y(tolerance_cents), _RIGHT, panel.y(-tolerance_cents)), pen.palette.band
    )
    amounts, decimals = ticks(panel.low_cents, panel.high_cents, 5)
    for at in amounts:
        y = panel.y(at)
        colour, width = (pen.palette.soft, 0.7) if at == 0.0 else (pen.palette.rule, 0.5)
        _line(pen, [(_LEFT, y), (_RIGHT, y)], colour, width)
        pen.text(_LEFT - 6, y + 2.8, signed(at, decimals), _SIZE, pen.palette.soft, across="right")
    for note in range(int(panel.low), int(panel.high) + 1):
        if note % 12 == 0:
            _line(
                pen,
                [(panel.x(note), panel.top), (panel.x(note), panel.bottom)],
                pen.palette.rule,
                0.5,
            )
    if found is not None:
        _model(pen, panel, found, pen.palette.soft, 0.8, _DASHED)
        for result in found.notes:
            _bar(pen, panel, result, pen.palette.soft, 0.8)
            _cross(pen, panel.x(result.note), panel.y(result.cents), pen.palette.soft)
    if left is not None:
        _model(pen, panel, left, pen.palette.strong, 1.0)
        crowded = len(left.notes) > 45
        for result in left.notes:
            # A doubted note is hollow; the table says why.
            fill = pen.palette.paper if result.doubt else pen.palette.strong
            _bar(pen, panel, result, pen.palette.strong, 1.0)
            size = 1.5 if crowded or small_left else 2.4
            edge = pen.palette.strong if result.doubt else pen.palette.paper
            pen.marks(
                [panel.x(result.note)],
                [panel.y(result.cents)],
                "o",
                2 * size,
                fill,
                edge=edge,
                edge_width=0.9,
            )


def _model(
    pen: Pen, panel: _Panel, curve: Curve, colour: str, width: float, dashes: Dashes = ()
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
                _line(pen, run, colour, width, dashes=dashes)
            run = []


def _bar(pen: Pen, panel: _Panel, result: NoteResult, colour: str, width: float) -> None:
    high = min(result.cents + result.expanded_cents, panel.high_cents)
    low = max(result.cents - result.expanded_cents, panel.low_cents)
    x = panel.x(result.note)
    _line(pen, [(x, panel.y(high)), (x, panel.y(low))], colour, width)
    if panel.y(low) - panel.y(high) > 9.0:  # caps only where there is a bar to see
        for end in (high, low):
            _line(pen, [(x - 1.8, panel.y(end)), (x + 1.8, panel.y(end))], colour, 0.8)


def _cross(pen: Pen, x: float, y: float, colour: str) -> None:
    for way in (1.0, -1.0):
        _line(pen, [(x - 2.2, y - 2.2 * way), (x + 2.2, y + 2.2 * way)], colour, 0.9)


def _keyboard(pen: Pen, panel: _Panel, top: float) -> None:
    low, high = int(panel.low), int(panel.high)
    for key in keys(low, high):
        foot = top + (11.0 if key.black else 18.0)
        fill = pen.palette.black_key if key.black else pen.palette.white_key
        pen.box(
            Box(panel.x(key.left), top, panel.x(key.right), foot), fill, pen.palette.key_edge, 0.4
        )
    for note in range(low, high + 1):
        if note % 12 == 0:
            pen.text(
                panel.x(note),
                top + 27.0,
                note_name(note),
                _SIZE,
                pen.palette.ink if note == 60 else pen.palette.soft,
                bold=note == 60,
                across="center",
            )


def _reach(
    pen: Pen, panel: _Panel, y: float, notes: tuple[NoteResult, ...], tolerance_cents: float
) -> float:
    """Draw the run of notes inside the tolerance; the height that the whole picture then needs."""
    run = widest_inside(notes)
    ends = (panel.x(notes[0].note), panel.x(notes[-1].note))
    _line(pen, [(ends[0], y), (ends[1], y)], pen.palette.rule, 0.8)
    if run:
        left, right = panel.x(run[0].note), panel.x(run[-1].note)
        if len(run) == 1:
            left, right = left - 2.0, right + 2.0
        _line(pen, [(left, y), (right, y)], pen.palette.within, 3.0)
        for end in (left, right):
            _line(pen, [(end, y - 4.0), (end, y + 4.0)], pen.palette.within, 1.2)
    for result in notes:
        if result.standing is Conformity.OUTSIDE:
            _cross(pen, panel.x(result.note), y, pen.palette.doubt)
        elif result.standing is Conformity.UNDECIDED:
            pen.marks(
                [panel.x(result.note)],
                [y],
                "o",
                2 * 2.0,
                pen.palette.paper,
                edge=pen.palette.doubt,
                edge_width=0.9,
            )
    pen.text(
        (ends[0] + ends[1]) / 2.0,
        y + 14.0,
        _reach_words(run, notes, tolerance_cents),
        _SIZE,
        pen.palette.ink,
        across="center",
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
