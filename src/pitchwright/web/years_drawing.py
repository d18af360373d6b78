"""The years of an instrument drawn as narrow as a phone: scale, high end and reach, one each.

As found is a cross, as left and checks are dots, as on the sheet; bars are what covers 95 %. The
paper's chart says more, and stands where there is room for it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from pitchwright.units import note_name
from pitchwright.web import texts
from pitchwright.web.texts import say

if TYPE_CHECKING:
    from pitchwright.logbook.history import SurveyRow

__all__ = ["draw_years"]

_WIDTH, _PANEL, _LEFT, _RIGHT, _TOP = 350.0, 132.0, 58.0, 12.0, 30.0
_FEWEST = 2

Place = Callable[[float], float]


def draw_years(rows: Sequence[SurveyRow]) -> str:
    """Draw surveys in order of time as one SVG element; empty where there are not two of them."""
    if len(rows) < _FEWEST:
        return ""
    times = [datetime.fromisoformat(row.at_utc) for row in rows]
    span_s = max((times[-1] - times[0]).total_seconds(), 1.0)
    x = [
        _LEFT + 8.0 + (at - times[0]).total_seconds() / span_s * (_WIDTH - _LEFT - _RIGHT - 16.0)
        for at in times
    ]
    panels = [
        panel
        for panel in (
            _figures(rows, x, "scale", "scale_cents_per_oct"),
            _figures(rows, x, "high", "high_cents_per_khz"),
            _reaches(rows, x),
        )
        if panel
    ]
    height = len(panels) * _PANEL + 26.0
    drawn = "".join(
        f'<g transform="translate(0 {place * _PANEL:g})">{panel}</g>'
        for place, panel in enumerate(panels)
    )
    one_day = times[0].date() == times[-1].date()
    written = "%H:%M" if one_day else "%Y-%m-%d"
    first, last = (times[end].astimezone().strftime(written) for end in (0, -1))
    ends = _text(_LEFT, height - 8.0, first) + _text(_WIDTH - _RIGHT, height - 8.0, last, "end")
    return (
        f'<svg class="sheet" viewBox="0 0 {_WIDTH:g} {height:g}" aria-hidden="true"'
        f' style="font-size:14px">{drawn}{ends}</svg>'
    )


def _figures(rows: Sequence[SurveyRow], x: Sequence[float], words: str, field: str) -> str:
    """One figure with its bars over the years; empty where no survey determined it."""
    from pitchwright.tracking.coverage import expanded_u

    known = [
        (x[n], float(value), expanded_u(float(getattr(row, f"u_{field}") or 0.0)), row)
        for n, row in enumerate(rows)
        if (value := getattr(row, field)) is not None
    ]
    if not known:
        return ""
    top = max(0.0, max(value + u for _, value, u, _ in known))
    bottom = min(0.0, min(value - u for _, value, u, _ in known))
    room = 0.1 * max(top - bottom, 0.1)
    y = _scale(bottom - room, top + room)
    parts = [_text(0.0, 16.0, say(f"years.{words}"))]
    parts += _rules(y, sorted({0.0, _round(top), _round(bottom)}), lambda at: texts.cents(at))
    for at, value, u, row in known:
        parts.append(
            f'<path class="sheet-bar" d="M{at:.1f} {y(value + u):.1f}V{y(value - u):.1f}"/>'
        )
        parts.append(_mark(at, y(value), row))
    return "".join(parts)


def _reaches(rows: Sequence[SurveyRow], x: Sequence[float]) -> str:
    """The reach of every survey, as bars from note to note; empty where none has one."""
    known = [
        (x[n], row.reach_low, row.reach_high)
        for n, row in enumerate(rows)
        if row.reach_low is not None and row.reach_high is not None
    ]
    if not known:
        return ""
    low, high = min(one[1] for one in known), max(one[2] for one in known)
    y = _scale(low - 2.0, high + 2.0)
    parts = [_text(0.0, 16.0, say("years.reach"))]
    parts += _rules(y, sorted({low, high}), note_name)
    parts += [
        f'<rect class="sheet-reach" x="{at - 3:.1f}" y="{y(top):.1f}" width="6" '
        f'height="{max(y(bottom) - y(top), 6.0):.1f}"/>'
        for at, bottom, top in known
    ]
    return "".join(parts)


def _scale(low: float, high: float) -> Place:
    def y(value: float) -> float:
        return _TOP + (high - value) / (high - low) * (_PANEL - _TOP - 14.0)

    return y


def _rules(y: Place, places: Iterable[float], words: Callable[[float], str]) -> list[str]:
    """Lines across with what they stand for, those that would touch another left out."""
    parts: list[str] = []
    last = 1e9
    for value in places:
        if abs(last - y(value)) < 16.0:
            continue
        last = y(value)
        kind = "sheet-zero" if value == 0.0 else "sheet-rule"
        parts.append(f'<path class="{kind}" d="M{_LEFT:g} {last:.1f}H{_WIDTH:g}"/>')
        parts.append(_text(_LEFT - 8.0, last + 5.0, words(value), "end"))
    return parts


def _mark(x: float, y: float, row: SurveyRow) -> str:
    if row.state.value == "as found":
        return f'<path class="sheet-cross" d="M{x - 4:.1f} {y - 4:.1f}l8 8m0 -8l-8 8"/>'
    return f'<circle class="sheet-dot" cx="{x:.1f}" cy="{y:.1f}" r="4.5"/>'


def _text(x: float, y: float, words: str, anchor: str = "start") -> str:
    return f'<text x="{x:g}" y="{y:.1f}" text-anchor="{anchor}">{words}</text>'


def _round(value: float) -> float:
    return round(value, 1)
