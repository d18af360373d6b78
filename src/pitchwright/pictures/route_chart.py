"""What a patch takes from every oscillator, note by note, and what a pulled cable moves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from pitchwright.pictures.chart_paper import LEFT, WIDTH, cut, draw_foot, draw_head
from pitchwright.pictures.figures import signed
from pitchwright.pictures.note_chart import (
    EndName,
    Frame,
    Style,
    draw_grid,
    draw_keyboard,
    draw_series,
    name_ends,
    styles,
)
from pitchwright.pictures.palette import Theme
from pitchwright.pictures.pen import Pen, blank_canvas, finished_svg, plain_line
from pitchwright.pictures.scale import strip
from pitchwright.route import RouteReport

__all__ = ["route_svg"]

HEIGHT: Final = 572.0
_CURVES_RIGHT: Final = 700.0
_TOP, _BOTTOM = 186.0, 460.0
_KEYS: Final = 470.0
_APART_CENTS_PER_OCT: Final = 0.05
_FAR: Final = 4.0
"""A curve this many times as steep as the next is left to run out of the picture."""


@dataclass(frozen=True, slots=True)
class _Curve:
    """What several oscillators have in common, or would have after a cable was pulled."""

    names: tuple[str, ...]
    after: tuple[str, ...]
    notes: tuple[float, ...]
    cents: tuple[float, ...]
    cents_per_octave: float
    stepped: bool


def route_svg(
    found: RouteReport,
    *,
    name: str = "",
    invented: bool = False,
    theme: Theme = "system",
) -> str:
    """Draw cents at every note for every oscillator, as patched and with one cable pulled, as SVG.

    Oscillators that get the same share one curve.

    Parameters
    ----------
    found
        The route understood, at two notes or more.
    name
        What stands at the top.
    invented
        Whether the data are invented; the chart then says so.
    theme
        Light, dark, or whichever the system that shows it prefers.
    """
    pen = blank_canvas(WIDTH, HEIGHT)
    said = found.sentences[0]
    proposal = found.instead[0].sentence.split(", and the worst")[0] if found.instead else ""
    draw_head(pen, name or "The route", f"{len(found.deliveries)} oscillators", said, proposal)
    today, pulled = _today(found), _pulled(found)
    frame = _frame(found, today, pulled)
    draw_grid(pen, frame, "cents from nominal")
    _draw_key(pen, frame, several=bool(pulled))
    _draw_curves(pen, frame, today, pulled)
    draw_keyboard(pen, frame, _KEYS)
    draw_foot(
        pen,
        HEIGHT - 18.0,
        "Trimming takes out how steep a curve is; nothing takes out what a pulled cable moves.",
        invented=invented,
    )
    words = [plain_line(sentence) for sentence in found.sentences]
    if invented:
        words.append("The data are invented.")
    return finished_svg(pen, plain_line(said), " ".join(words), theme)


def _today(found: RouteReport) -> list[_Curve]:
    curves: list[_Curve] = []
    for one in found.deliveries:
        line = np.polyval(np.polyfit(one.notes, one.cents, 1), one.notes)
        stepped = bool(np.abs(np.array(one.cents) - line).max() > 0.5)
        curves.append(
            _Curve((one.oscillator,), (), one.notes, one.cents, one.cents_per_octave, stepped)
        )
    return _gathered(curves)


def _pulled(found: RouteReport) -> list[_Curve]:
    """What every oscillator would get with one cable pulled: only where that moves it."""
    by_name = {one.oscillator: one for one in found.deliveries}
    curves = []
    for change in found.pulled:
        cable = change.what.removesuffix("'s cable pulled")
        for name, moved in change.moved:
            one = by_name[name]
            # Said of a trimmed oscillator: every volt that arrives changes by this.
            cents = tuple(c + moved * v for c, v in zip(one.cents, one.cv_v, strict=True))
            steep = one.cents_per_octave + one.gain * moved
            curves.append(_Curve((name,), (cable,), one.notes, cents, steep, False))
    return _gathered(curves)


def _gathered(curves: Sequence[_Curve]) -> list[_Curve]:
    """Curves that are the same, as one."""
    found: list[_Curve] = []
    for curve in curves:
        for place, other in enumerate(found):
            apart = max(abs(a - b) for a, b in zip(curve.cents, other.cents, strict=True))
            near = abs(curve.cents_per_octave - other.cents_per_octave)
            if apart < 0.3 and near < _APART_CENTS_PER_OCT:
                found[place] = _Curve(
                    tuple(dict.fromkeys((*other.names, *curve.names))),
                    tuple(dict.fromkeys((*other.after, *curve.after))),
                    other.notes,
                    other.cents,
                    other.cents_per_octave,
                    other.stepped or curve.stepped,
                )
                break
        else:
            found.append(curve)
    return found


def _frame(found: RouteReport, today: Sequence[_Curve], pulled: Sequence[_Curve]) -> Frame:
    notes = found.deliveries[0].notes
    low, high = strip(notes)
    reach = sorted(max(map(abs, curve.cents)) for curve in today)
    # What runs out of the picture must leave something in it.
    while len(reach) > 1 and reach[-1] > _FAR * max(reach[-2], 5.0):
        reach.pop()
    far = max(reach[-1], 5.0)
    shown = [c for curve in (*today, *pulled) for c in curve.cents if abs(c) <= far]
    least, most = min(0.0, *shown), max(0.0, *shown)
    room = 0.07 * max(most - least, 5.0)
    return Frame(low, high, least - room, most + room, _TOP, _BOTTOM, LEFT, _CURVES_RIGHT)


def _draw_curves(pen: Pen, frame: Frame, today: Sequence[_Curve], pulled: Sequence[_Curve]) -> None:
    names: list[EndName] = []
    for curve, style in zip(today, styles(pen.palette, len(today)), strict=True):
        plain = Style(style.colour, style.marker)
        draw_series(pen, frame, curve.notes, curve.cents, plain, mark=5.5 if curve.stepped else 0.0)
        words = f"{_all_of(curve.names)} {signed(curve.cents_per_octave)}"
        outside = not frame.shows(curve.cents[-1])
        words += (" ▼" if curve.cents[-1] < 0.0 else " ▲") if outside else ""
        names.append(EndName(words, _end(frame, curve), style.colour))
        for after in pulled:
            if after.names[0] not in curve.names or outside:
                continue
            dashed = Style(style.colour, style.marker, (5, 3))
            draw_series(pen, frame, after.notes, after.cents, dashed, width=1.3, mark=0.0)
            words = f"without {_all_of(after.after, 'or')}: {signed(after.cents_per_octave)}"
            names.append(EndName(words, _end(frame, after), style.colour, bold=False))
    name_ends(pen, frame, names)


def _end(frame: Frame, curve: _Curve) -> float:
    return frame.y(min(max(curve.cents[-1], frame.least), frame.most))


def _all_of(names: Sequence[str], word: str = "and") -> str:
    short = [cut(plain_line(name), 14) for name in names]
    if len(short) > 3:
        return f"{len(short)} oscillators" if word == "and" else "any one cable"
    if len(short) == 1:
        return short[0]
    return f"{', '.join(short[:-1])} {word} {short[-1]}"


def _draw_key(pen: Pen, frame: Frame, *, several: bool) -> None:
    ink, y = pen.palette, frame.head - 18.0
    x = frame.left + 160.0
    pen.line([x, x + 26], [y, y], ink.soft, 1.7)
    pen.text(x + 33, y + 4, "as patched", 11, ink.soft)
    if several:
        pen.line([x + 118, x + 144], [y, y], ink.soft, 1.3, dashes=(5, 3))
        pen.text(x + 151, y + 4, "with one cable pulled", 11, ink.soft)
    pen.text(frame.right + 26, y + 4, "cents per octave", 11, ink.soft)
