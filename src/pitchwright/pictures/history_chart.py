"""The chart of an instrument's years: scale, high end, base and reach, survey by survey.

Hollow is as found, filled as left. What lies between an as left and the as found that follows is
drift; what lies between an as found and its as left is the screwdriver.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import Final, Protocol

from pitchwright.errors import InputError
from pitchwright.pictures.chart_paper import (
    LEFT,
    RIGHT,
    WIDTH,
    cut,
    draw_foot,
    draw_head,
)
from pitchwright.pictures.faces import text_width
from pitchwright.pictures.figures import day, plural, signed
from pitchwright.pictures.palette import Theme
from pitchwright.pictures.pen import Pen, blank_canvas, finished_svg, plain_line
from pitchwright.pictures.placing import Box
from pitchwright.pictures.scale import ticks
from pitchwright.stability.years import DAYS_PER_MONTH, ControlLimits, DriftRate, control_limits
from pitchwright.tracking.coverage import expanded_u
from pitchwright.units import note_name

__all__ = ["HistoryRow", "history_svg"]

HEIGHT: Final = 822.0
_GAP: Final = 34.0
_FAR: Final = 4.0
"""So many times what three in four surveys keep to is far off."""


class HistoryRow(Protocol):
    """What the chart reads of a survey; None where undetermined."""

    @property
    def at_utc(self) -> str:
        """When, ISO 8601 in UTC."""

    @property
    def state(self) -> str:
        """``as found``, ``as left`` or ``check``."""

    @property
    def base_cents(self) -> float | None:
        """Base."""

    @property
    def u_base_cents(self) -> float | None:
        """Its standard uncertainty."""

    @property
    def scale_cents_per_oct(self) -> float | None:
        """Scale."""

    @property
    def u_scale_cents_per_oct(self) -> float | None:
        """Its standard uncertainty."""

    @property
    def high_cents_per_khz(self) -> float | None:
        """High end."""

    @property
    def u_high_cents_per_khz(self) -> float | None:
        """Its standard uncertainty."""

    @property
    def tolerance_cents(self) -> float | None:
        """What the reach is taken at."""

    @property
    def reach_low(self) -> float | None:
        """Lowest note of the reach."""

    @property
    def reach_high(self) -> float | None:
        """Highest note of the reach."""


@dataclass(frozen=True, slots=True)
class _Mark:
    """One figure of one survey."""

    at: datetime
    state: str
    amount: float
    u: float

    @property
    def spread(self) -> float:
        return expanded_u(self.u)


@dataclass(frozen=True, slots=True)
class _Panel:
    """Place and scale of one figure's plot; time runs across all of them alike."""

    top: float
    bottom: float
    low: float
    high: float
    begin: datetime
    end: datetime

    def x(self, at: datetime) -> float:
        share = (at - self.begin) / (self.end - self.begin)
        return LEFT + 10.0 + share * (RIGHT - LEFT - 20.0)

    def y(self, amount: float) -> float:
        share = (amount - self.low) / (self.high - self.low)
        return self.bottom - share * (self.bottom - self.top)

    def held(self, amount: float) -> float:
        return min(max(amount, self.low), self.high)


def history_svg(
    name: str,
    rows: Sequence[HistoryRow],
    *,
    rates: Mapping[str, DriftRate] | None = None,
    due: date | None = None,
    due_why: str = "",
    tolerance_cents: float = 1.0,
    invented: bool = False,
    theme: Theme = "system",
) -> str:
    """Draw the history of one instrument as SVG.

    Parameters
    ----------
    name
        The instrument.
    rows
        Its surveys in the order of time; at least one.
    rates
        Drift per month of ``scale`` and ``high end``, where known.
    due, due_why
        The day by which it should be looked at again, None where unknown, and why.
    tolerance_cents
        For surveys that do not say at which tolerance their reach was taken.
    invented
        Whether the data are invented; the chart then says so.
    theme
        Light, dark, or whichever the system that shows it prefers.

    Returns
    -------
    str
        A whole SVG document with title and description; the same for the same arguments.

    Raises
    ------
    InputError
        Where there is no survey.
    """
    if not rows:
        raise InputError("There is no survey to draw a history of", name[:60], "Survey it first")
    rates = rates or {}
    times = [_time(row) for row in rows]
    begin, end = _span(times, due)
    pen = blank_canvas(WIDTH, HEIGHT)
    said = _headline(name, rows, rates, due)
    draw_head(pen, name, _kicker(rows), said, due_why)
    _draw_key(pen)
    top = 168.0
    for label, unit, field, rate, height in (
        ("scale", "cents per octave", "scale_cents_per_oct", rates.get("scale"), 138.0),
        ("high end", "cents per kHz", "high_cents_per_khz", rates.get("high end"), 104.0),
        ("base", "cents", "base_cents", None, 104.0),
    ):
        marks = _marks(rows, field)
        limits = control_limits([m.amount for m in _found(marks)]) if label == "base" else None
        panel = _Panel(top, top + height, *_extent(marks, limits), begin, end)
        _draw_panel(pen, panel, f"{label}, {unit}", marks)
        if limits is not None:
            _draw_limits(pen, panel, limits, _found(marks))
        _draw_drift(pen, panel, marks, rate, due, by_hand=label == "base")
        if label == "scale" and due is not None:
            _draw_due(pen, panel, due)
        _draw_marks(pen, panel, marks)
        top += height + _GAP
    _draw_reach(
        pen, _Panel(top, top + 108.0, *_note_extent(rows), begin, end), rows, tolerance_cents
    )
    note = (
        "As found and as left of one visit stand side by side in the reach. Base is set by hand "
        "when it is played: its drift is not forecast."
    )
    draw_foot(pen, HEIGHT - 12.0, note, invented=invented)
    more = _description(rows, due_why, invented)
    return finished_svg(pen, said, more, theme)


def _time(row: HistoryRow) -> datetime:
    return datetime.fromisoformat(row.at_utc).astimezone(UTC)


def _span(times: Sequence[datetime], due: date | None) -> tuple[datetime, datetime]:
    """First and last moment shown; a day far ahead may not squeeze the years that were measured."""
    first, last = min(times), max(times)
    seen = last - first
    if due is not None:
        ahead = max(_midnight(due) - last, timedelta())
        last += min(ahead, max(0.4 * seen, timedelta(days=240)))
    shown = last - first
    if shown.days < 60:
        return first - timedelta(days=60), last + timedelta(days=60)
    return first - 0.02 * shown, last + 0.03 * shown


def _midnight(on: date) -> datetime:
    return datetime(on.year, on.month, on.day, tzinfo=UTC)


def _marks(rows: Sequence[HistoryRow], field: str) -> list[_Mark]:
    return [
        _Mark(_time(row), row.state, getattr(row, field), getattr(row, f"u_{field}") or 0.0)
        for row in rows
        if getattr(row, field) is not None
    ]


def _found(marks: Sequence[_Mark]) -> list[_Mark]:
    return [mark for mark in marks if mark.state == "as found"]


def _extent(marks: Sequence[_Mark], limits: ControlLimits | None) -> tuple[float, float]:
    if not marks:
        return -1.0, 1.0
    # Neither a very unsure survey nor one that was far off may flatten the others: bars are cut,
    # and far marks get an arrow with their figure.
    usual = sorted(mark.spread for mark in marks)[len(marks) // 2]
    sizes = sorted(abs(mark.amount) for mark in marks)
    near = math.inf
    if len(sizes) >= 6:
        near = _FAR * max(sizes[math.ceil(0.75 * len(sizes)) - 1], usual)
    shown = [
        m.amount + way * min(m.spread, 3.0 * usual + 0.2)
        for m in marks
        for way in (-1.0, 1.0)
        if abs(m.amount) <= near
    ]
    if limits is not None:
        shown += [limits.low, limits.high]
    low, high = min(0.0, *shown), max(0.0, *shown)
    room = max(0.08 * (high - low), 0.02)
    return low - room, high + room


def _note_extent(rows: Sequence[HistoryRow]) -> tuple[float, float]:
    notes = [n for row in rows for n in (row.reach_low, row.reach_high) if n is not None]
    low, high = min([36.0, *notes]), max([72.0, *notes])
    return 12.0 * math.floor(low / 12.0) - 2.0, 12.0 * math.ceil(high / 12.0) + 2.0


def _headline(
    name: str, rows: Sequence[HistoryRow], rates: Mapping[str, DriftRate], due: date | None
) -> str:
    who = cut(plain_line(name), 40)
    scale = rates.get("scale")
    if due is not None:
        return f"{who} should be looked at again by {day(due)}."
    if scale is None:
        times = "once" if len(rows) == 1 else f"{len(rows)} times"
        return f"{who} was surveyed {times}: how fast it drifts cannot be told yet."
    figure = f"{signed(scale.per_month, 3)} ± {scale.expanded:.3f} cents per octave a month"
    if abs(scale.per_month) > scale.expanded:
        return f"Scale of {who} drifts by {figure}."
    return f"Scale of {who} holds: no drift beyond what the readings can tell, {figure}."


def _kicker(rows: Sequence[HistoryRow]) -> str:
    first, last = day(_time(rows[0]).date()), day(_time(rows[-1]).date())
    surveys = f"{plural(len(rows), 'survey')}, {first}"
    return surveys if first == last else f"{surveys} to {last}"


def _draw_key(pen: Pen) -> None:
    ink, y, x = pen.palette, HEIGHT - 38.0, LEFT - 10.0

    def item(words: str, width: float) -> None:
        nonlocal x
        pen.text(x + width + 7, y + 4, words, 11, ink.soft)
        x += width + 7 + text_width(words, 11) + 12

    pen.marks([x + 5], [y], "o", 7.5, ink.paper, edge=ink.strong, edge_width=1.5)
    item("as found", 10)
    pen.marks([x + 5], [y], "o", 7.5, ink.strong)
    item("as left", 10)
    pen.marks([x + 5], [y], "D", 5.0, ink.paper, edge=ink.soft, edge_width=1.3)
    item("check", 10)
    pen.line([x + 5, x + 5], [y - 7, y + 7], ink.strong, 1.6)
    item("what covers 95 %", 10)
    pen.line([x, x + 24], [y, y], ink.strong, 1.6)
    item("drift", 24)
    pen.line([x, x + 24], [y, y], ink.faint, 1.2, dashes=(1.2, 2.4))
    item("trimmed", 24)
    pen.line([x, x + 24], [y, y], ink.strong, 1.4, dashes=(5, 3))
    item("if it drifts on so", 24)


def _draw_panel(pen: Pen, panel: _Panel, label: str, marks: Sequence[_Mark]) -> None:
    ink = pen.palette
    amounts, decimals = ticks(panel.low, panel.high, 4)
    for at in amounts:
        y, zero = panel.y(at), at == 0.0
        pen.line(
            [LEFT - 10, RIGHT + 10],
            [y, y],
            ink.soft if zero else ink.rule,
            1.1 if zero else 0.8,
            z=1.0,
        )
        pen.text(LEFT - 18, y + 4, signed(at, decimals), 11, ink.soft, across="right")
    pen.text(LEFT - 10, panel.top - 8, label, 12, ink.ink, bold=True)
    _draw_times(pen, panel, words=False)
    if not marks:
        pen.text(
            (LEFT + RIGHT) / 2,
            (panel.top + panel.bottom) / 2 - 6,
            "not determined in any survey",
            12,
            ink.soft,
            across="center",
        )


def _draw_times(pen: Pen, panel: _Panel, *, words: bool) -> None:
    ink = pen.palette
    last_x = -1e9
    for at, label in _ticks(panel.begin, panel.end):
        x = panel.x(at)
        pen.line([x, x], [panel.top, panel.bottom + (6 if words else 0)], ink.rule, 0.8, z=0.8)
        if words and x - last_x > text_width(label, 11) + 10:
            pen.text(x, panel.bottom + 22, label, 11, ink.soft, across="center")
            last_x = x


def _ticks(begin: datetime, end: datetime) -> list[tuple[datetime, str]]:
    years = (end - begin).days / 365.25
    if years > 2.5:
        step = max(1, math.ceil(years / 14.0))
        return [
            (datetime(year, 1, 1, tzinfo=UTC), str(year))
            for year in range(begin.year + 1, end.year + 1)
            if year % step == 0
        ]
    step_months = 3 if years > 0.8 else 1
    found = []
    for month in range(begin.year * 12 + begin.month, end.year * 12 + end.month):
        if month % step_months == 0:
            at = datetime(month // 12, month % 12 + 1, 1, tzinfo=UTC)
            found.append((at, f"{day(at.date()).split()[1][:3]} {at.year}"))
    return found


def _draw_limits(pen: Pen, panel: _Panel, limits: ControlLimits, found: Sequence[_Mark]) -> None:
    """Where base, as found, lies by chance alone; what is outside carries the word."""
    ink = pen.palette
    for level in (limits.low, limits.high):
        y = panel.y(level)
        pen.line([LEFT - 10, RIGHT + 10], [y, y], ink.doubt, 1.0, dashes=(2, 3), z=2.0)
    pen.text(
        RIGHT + 10,
        panel.top - 8,
        "dotted: control limits of base as found",
        11,
        ink.soft,
        across="right",
    )
    for place in limits.outside:
        mark = found[place]
        pen.text(
            panel.x(mark.at),
            panel.y(panel.held(mark.amount)) - 11,
            "outside",
            11,
            ink.doubt,
            bold=True,
            across="center",
        )


def _draw_drift(
    pen: Pen,
    panel: _Panel,
    marks: Sequence[_Mark],
    rate: DriftRate | None,
    due: date | None,
    *,
    by_hand: bool,
) -> None:
    ink = pen.palette
    for earlier, later in pairwise(marks):
        x = [panel.x(earlier.at), panel.x(later.at)]
        y = [panel.y(panel.held(earlier.amount)), panel.y(panel.held(later.amount))]
        trimmed = earlier.state == "as found" and later.state == "as left"
        if trimmed:
            pen.line(x, y, ink.faint, 1.2, dashes=(1.2, 2.4), z=2.5)
        elif not by_hand:
            pen.line(x, y, ink.strong, 1.6, z=2.5)
    if rate is None or not marks:
        return
    last = marks[-1]
    until = panel.end
    if due is not None:
        until = min(until, _midnight(due))
    days = (until - last.at).total_seconds() / 86400.0
    ahead = last.amount + rate.per_month * days / DAYS_PER_MONTH
    held = panel.held(ahead)
    if held != ahead:  # cut where it leaves the picture, so that it keeps its slope
        days *= max((held - last.amount) / (ahead - last.amount), 0.0)
    if days > 15.0:
        pen.line(
            [panel.x(last.at), panel.x(last.at + timedelta(days=days))],
            [panel.y(last.amount), panel.y(held)],
            ink.strong,
            1.4,
            dashes=(5, 3),
            z=2.5,
        )


def _draw_due(pen: Pen, panel: _Panel, due: date) -> None:
    ink, at, words = pen.palette, _midnight(due), f"due {day(due)}"
    if at > panel.end:
        pen.text(RIGHT + 10, panel.top - 8, f"{words} ▶", 11, ink.doubt, bold=True, across="right")
        return
    x = panel.x(at)
    pen.line([x, x], [panel.top - 2, panel.bottom], ink.doubt, 1.2, z=2.2)
    across = "right" if x > LEFT + text_width(words, 11) else "left"
    pen.text(x, panel.top - 8, words, 11, ink.doubt, bold=True, across=across)


def _draw_marks(pen: Pen, panel: _Panel, marks: Sequence[_Mark]) -> None:
    ink = pen.palette
    crowded = len(marks) > 60
    size = 5.0 if crowded else 7.5
    for mark in marks:
        check = mark.state == "check"
        colour = ink.soft if check else ink.strong
        x, y = panel.x(mark.at), panel.y(mark.amount)
        if not panel.low <= mark.amount <= panel.high:
            _draw_beyond(pen, panel, mark, colour)
            continue
        high, low = (panel.y(panel.held(mark.amount + w * mark.spread)) for w in (1.0, -1.0))
        pen.line([x, x], [high, low], colour, 1.0 if crowded else 1.6, z=4.0)
        pen.marks(
            [x],
            [y],
            "D" if check else "o",
            0.7 * size if check else size,
            colour if mark.state == "as left" else ink.paper,
            edge=colour,
            edge_width=1.3 if check else 1.5,
            z=5.0,
        )


def _draw_beyond(pen: Pen, panel: _Panel, mark: _Mark, colour: str) -> None:
    """An arrow at the edge, hollow as found and filled as left, with the figure beside it."""
    above = mark.amount > panel.high
    x, y = panel.x(mark.at), panel.top + 5.0 if above else panel.bottom - 5.0
    fill = colour if mark.state == "as left" else pen.palette.paper
    pen.marks([x], [y], "^" if above else "v", 7.5, fill, edge=colour, edge_width=1.3, z=5.0)
    room = x + 12.0 + text_width("+00.00", 11) < RIGHT
    pen.text(
        x + 8.0 if room else x - 8.0,
        y + 4.0,
        signed(mark.amount),
        11,
        pen.palette.soft,
        across="left" if room else "right",
    )


def _draw_reach(
    pen: Pen, panel: _Panel, rows: Sequence[HistoryRow], tolerance_cents: float
) -> None:
    ink = pen.palette
    tolerances = sorted({row.tolerance_cents or tolerance_cents for row in rows})
    within = " or ".join(f"±{t:g}" for t in tolerances)
    unit = "cent" if tolerances == [1.0] else "cents"
    pen.text(LEFT - 10, panel.top - 8, f"reach within {within} {unit}", 12, ink.ink, bold=True)
    for note in range(math.ceil(panel.low), math.floor(panel.high) + 1):
        if note % 12 == 0:
            y = panel.y(note)
            pen.line([LEFT - 10, RIGHT + 10], [y, y], ink.rule, 0.8, z=1.0)
            pen.text(
                LEFT - 18,
                y + 4,
                note_name(note),
                11,
                ink.ink if note == 60 else ink.soft,
                bold=note == 60,
                across="right",
            )
    _draw_times(pen, panel, words=True)
    last_x, shift = -1e9, 0.0
    half = 3.0 if len(rows) <= 90 else 1.2
    for row in rows:
        x = panel.x(_time(row))
        # As found and as left of one visit would lie on each other.
        shift = shift + 3.0 * half if x - last_x < 2.7 * half else 0.0
        last_x = x
        at = x + shift
        if row.reach_low is None or row.reach_high is None:
            pen.text(at, panel.bottom - 6, "–", 14, ink.doubt, bold=True, across="center")
            continue
        left = row.state == "as left"
        low, high = panel.y(row.reach_low), panel.y(row.reach_high)
        if low - high < 4.0:
            low, high = low + 2.0, high - 2.0
        if left:
            pen.box(Box(at - half, high, at + half, low), ink.within, ink.within, 1.2, z=3.0)
        else:
            pen.box(Box(at - half, high, at + half, low), ink.paper, ink.within, 1.2, z=3.0)
    if any(row.reach_low is None for row in rows):
        pen.text(RIGHT + 10, panel.top - 8, "– : no note for certain", 11, ink.soft, across="right")


def _description(rows: Sequence[HistoryRow], due_why: str, invented: bool) -> str:
    parts = []
    for row in rows[-40:]:
        figures = [
            f"{label} {signed(amount)} ± {expanded_u(u or 0.0):.2f}"
            for label, amount, u in (
                ("scale", row.scale_cents_per_oct, row.u_scale_cents_per_oct),
                ("high end", row.high_cents_per_khz, row.u_high_cents_per_khz),
                ("base", row.base_cents, row.u_base_cents),
            )
            if amount is not None
        ]
        reach = (
            f"reach {note_name(row.reach_low)} to {note_name(row.reach_high)}"
            if row.reach_low is not None and row.reach_high is not None
            else "no reach"
        )
        parts.append(f"{day(_time(row).date())}, {row.state}: {', '.join([*figures, reach])}")
    words = "; ".join(parts) + "."
    if len(rows) > 40:
        words = f"The last 40 of {len(rows)} surveys. {words}"
    if due_why:
        words += f" {due_why}"
    return plain_line(words + (" The data are invented." if invented else ""))
