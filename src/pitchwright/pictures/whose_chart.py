"""Whose error it is: every scale that can be told, with its interval, and those that cannot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from pitchwright.ensemble import Figure, Whose
from pitchwright.pictures.chart_paper import LEFT, RIGHT, WIDTH, cut, draw_foot, draw_head
from pitchwright.pictures.figures import signed
from pitchwright.pictures.palette import Theme
from pitchwright.pictures.pen import Pen, blank_canvas, finished_svg, plain_line
from pitchwright.pictures.scale import ticks
from pitchwright.tracking.coverage import expanded_u

__all__ = ["whose_svg"]

_TOP: Final = 182.0
_ROW: Final = 22.0
_GAP: Final = 34.0
_NAMES: Final = 268.0
_AXIS: Final = (300.0, 806.0)
_MOST_ROWS: Final = 24
_HEADLINE: Final = 158
"""Letters that two lines at the top hold."""


@dataclass(frozen=True, slots=True)
class _Group:
    words: str
    rows: tuple[tuple[str, Figure], ...]


def whose_svg(
    whose: Whose,
    *,
    name: str = "",
    invented: bool = False,
    theme: Theme = "system",
) -> str:
    """Draw the scales of oscillators and sources with what covers 95 % of each, as SVG.

    Three groups: as heard (an oscillator through a source), everyone's own, and differences. What
    cannot be told is drawn as open, not as a guess.

    Parameters
    ----------
    whose
        What could be told.
    name
        The instrument.
    invented
        Whether the data are invented; the chart then says so.
    theme
        Light, dark, or whichever the system that shows it prefers.
    """
    groups = _groups(whose)
    height = _TOP + sum(_GAP + _ROW * len(group.rows) for group in groups) + 74.0
    pen = blank_canvas(WIDTH, height)
    said, more = _said(whose)
    draw_head(pen, name or "Whose error", "scale, cents per octave", said, more)
    least, most = _range(groups)
    bottom = height - 62.0
    _draw_axis(pen, least, most, bottom)
    y = _TOP
    for group in groups:
        pen.text(LEFT - 10, y + 4, group.words, 11, pen.palette.soft)
        y += _GAP - 8.0
        for words, figure in group.rows:
            _draw_row(pen, y, words, figure, least, most)
            y += _ROW
        y += 8.0
    draw_foot(
        pen,
        height - 18.0,
        "Bars: what covers 95 %. A row of dots: surveys alone cannot tell this one.",
        invented=invented,
    )
    every = [plain_line(sentence) for sentence in whose.sentences]
    if invented:
        every.append("The data are invented.")
    return finished_svg(pen, plain_line(said), " ".join(every), theme)


def _said(whose: Whose) -> tuple[str, str]:
    """The sentence at the top: what is known of a source, else what is not."""
    own = [s for s in whose.sentences if "own scale is" in s]
    short = [s for s in whose.sentences if len(s) <= _HEADLINE]
    first = (*own, *short, whose.sentences[0])[0]
    hidden = [s for s in whose.sentences if s.startswith("What cannot be told")]
    rest = [s for s in whose.sentences if s not in (first, *hidden)]
    return first, " ".join((*hidden, *rest))


def _groups(whose: Whose) -> list[_Group]:
    scales = [figure for figure in whose.figures if figure.kind == "scale"]
    found = []
    for source in whose.sources:
        rows = [
            (figure.names[0], figure)
            for figure in scales
            if figure.what == "together" and figure.names[1] == source
        ]
        if rows:
            found.append(_Group(f"as heard through {cut(plain_line(source), 24)}", tuple(rows)))
    own = [(figure.names[0], figure) for figure in scales if figure.what == "own"]
    found.append(_Group("everyone's own", tuple(own)))
    apart = [_positive(figure) for figure in scales if figure.what == "apart"]
    apart.sort(key=lambda row: -abs(row[1].amount or 0.0))
    if apart:
        found.append(_Group("differences, the greatest first", tuple(apart[:_MOST_ROWS])))
    return found


def _positive(figure: Figure) -> tuple[str, Figure]:
    """A difference, the wider one first."""
    first, second = figure.names
    if (figure.amount or 0.0) < 0.0:
        amount = None if figure.amount is None else -figure.amount
        figure = replace(figure, names=(second, first), amount=amount)
    return f"{figure.names[0]} minus {figure.names[1]}", figure


def _range(groups: Sequence[_Group]) -> tuple[float, float]:
    ends = [0.0]
    for group in groups:
        for _, figure in group.rows:
            if figure.amount is not None and figure.u is not None:
                # An interval that is hardly known must not flatten the others: it gets arrows.
                u = min(expanded_u(figure.u), 20.0)
                ends += [figure.amount - u, figure.amount + u]
    least, most = min(ends), max(ends)
    room = 0.05 * max(most - least, 0.5)
    least, most = least - room, most + room
    return least, most


def _x(amount: float, least: float, most: float) -> float:
    share = (min(max(amount, least), most) - least) / (most - least)
    return _AXIS[0] + share * (_AXIS[1] - _AXIS[0])


def _draw_axis(pen: Pen, least: float, most: float, bottom: float) -> None:
    ink = pen.palette
    amounts, decimals = ticks(least, most, 6)
    for at in amounts:
        x = _x(at, least, most)
        zero = at == 0.0
        pen.line(
            [x, x],
            [_TOP + 8, bottom],
            ink.soft if zero else ink.rule,
            1.1 if zero else 0.8,
            z=0.8,
        )
        pen.text(x, bottom + 18, signed(at, decimals), 11, ink.soft, across="center")
    left, right = _x(least, least, most), _x(most, least, most)
    pen.text(left, _TOP - 4, "◀ flatter each octave", 11, ink.soft)
    pen.text(right, _TOP - 4, "sharper each octave ▶", 11, ink.soft, across="right")


def _draw_row(pen: Pen, y: float, words: str, figure: Figure, least: float, most: float) -> None:
    ink = pen.palette
    pen.line([LEFT - 10, RIGHT + 10], [y + 11.0, y + 11.0], ink.rule, 0.5, z=0.6)
    pen.text(_NAMES, y + 4, cut(plain_line(words), 30), 12, ink.ink, across="right")
    if figure.amount is None or figure.u is None:
        pen.line(
            list(_AXIS),
            [y, y],
            ink.doubt,
            1.6,
            dashes=(0.1, 3.2),
            z=3.0,
            cap="round",
        )
        pen.text(_AXIS[1] + 24, y + 4, "cannot be told", 12, ink.doubt)
        return
    low, high = figure.amount - expanded_u(figure.u), figure.amount + expanded_u(figure.u)
    ends = [_x(low, least, most), _x(high, least, most)]
    pen.line(ends, [y, y], ink.strong, 1.8, z=3.0, cap="butt")
    if ends[1] - ends[0] > 12.0:
        for end, inside in zip(ends, (low >= least, high <= most), strict=True):
            if inside:
                pen.line([end, end], [y - 4, y + 4], ink.strong, 1.4, z=3.0)
    pen.marks([_x(figure.amount, least, most)], [y], "o", 6.4, ink.strong, z=4.0)
    u = expanded_u(figure.u)
    digits = 1 if u >= 0.095 else 2
    amount = f"{signed(figure.amount, digits)} ± {max(u, 0.01):.{digits}f}"
    pen.text(_AXIS[1] + 24, y + 4, amount, 12, ink.ink)
