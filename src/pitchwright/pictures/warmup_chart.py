"""The chart of a warm-up: what was heard, where it is going, and from when on it is ready.

Drawn in pixels on one blank canvas, like the sheet; the same history gives the same bytes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.pictures.chart_paper import LEFT, RIGHT, WIDTH, draw_foot, draw_head
from pitchwright.pictures.faces import text_width
from pitchwright.pictures.palette import Theme
from pitchwright.pictures.pen import Dashes, Pen, blank_canvas, finished_svg, plain_line
from pitchwright.pictures.placing import Box
from pitchwright.pictures.scale import ticks
from pitchwright.stability import Forecast, Readiness, Steadiness
from pitchwright.stability.thermometer import room_of
from pitchwright.stability.wording import in_words, signed
from pitchwright.tracking.coverage import expanded_u

__all__ = ["warmup_svg"]

Array = NDArray[np.float64]

HEIGHT: Final = 640.0
_TOP, _BOTTOM = 164.0, 436.0
_MINUTE_S: Final = 60.0
_MOST_DOTS: Final = 500
_STEPS_MIN: Final = (1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 60.0, 120.0, 180.0, 240.0, 360.0)
_FURTHEST_S: Final = 3.0 * 3600.0


@dataclass(frozen=True, slots=True)
class _Scale:
    """From seconds and cents to pixels."""

    end_s: float
    bottom_cents: float
    top_cents: float

    def x(self, t_s: float) -> float:
        return LEFT + t_s / self.end_s * (RIGHT - LEFT)

    def y(self, cents: float) -> float:
        share = (cents - self.bottom_cents) / (self.top_cents - self.bottom_cents)
        return _BOTTOM - share * (_BOTTOM - _TOP)


@dataclass(frozen=True, slots=True)
class _Drawn:
    """What is drawn: times from the start, cents from the pitch it ends at."""

    t_s: Array
    cents: Array
    curve_s: Array
    middle: Array
    low: Array
    high: Array
    now_s: float


def warmup_svg(
    name: str,
    t_s: Array,
    cents: Array,
    found: Forecast,
    *,
    temperature_c: Array | None = None,
    steadiness: Steadiness | None = None,
    conditions: str = "",
    invented: bool = False,
    theme: Theme = "system",
) -> str:
    """Draw the chart of one oscillator's warm-up as SVG.

    Parameters
    ----------
    name
        The oscillator.
    t_s, cents
        Its readings, shape (n,), in the order of time; NaN where there was none.
    found
        The forecast made from them.
    temperature_c
        What the forecast was given, shape (n,): what the room did is then taken out of the
        readings that are shown, as far as it can be told.
    steadiness
        Their Allan deviation, if there are enough of them.
    conditions
        One line about where and when; may be empty.
    invented
        Whether the data are invented; the chart then says so.
    theme
        Light, dark, or whichever the system that shows it prefers.

    Returns
    -------
    str
        A whole SVG document with title and description for those who do not see it.
    """
    pen = blank_canvas(WIDTH, HEIGHT)
    said = plain_line(found.sentence)
    drawn = _drawn(t_s, _without_room(t_s, cents, temperature_c, found), found)
    scale = _scale(drawn, found)
    kicker = f"warm-up, watched for {in_words(found.watched_s)}"
    draw_head(pen, name, f"{kicker} · {conditions}" if conditions else kicker, said, found.why)
    _draw_grid(pen, scale, drawn, found)
    _draw_forecast(pen, scale, drawn)
    _draw_readings(pen, scale, drawn)
    _draw_now(pen, scale, drawn.now_s)
    _draw_ready(pen, scale, drawn.now_s, found)
    _draw_key(pen, found)
    _draw_facts(pen, found, steadiness)
    room_out = temperature_c is not None and math.isfinite(found.cents_per_k)
    note = "The forecast is of the warm-up; what it wanders besides is not waited for."
    if room_out:
        note += " What the room did, as far as can be told, is taken out of what is shown as heard."
    draw_foot(pen, HEIGHT - 13.0, note, invented=invented)
    words = [f"{plain_line(name)}, watched for {in_words(found.watched_s)}.", found.why]
    if steadiness is not None:
        words += [steadiness.sentence, steadiness.why]
    if invented:
        words.append("The data are invented.")
    return finished_svg(pen, said, plain_line(" ".join(words)), theme)


def _without_room(t_s: Array, cents: Array, temperature_c: Array | None, found: Forecast) -> Array:
    if temperature_c is None or not math.isfinite(found.cents_per_k):
        return cents
    felt_c = room_of(t_s, temperature_c).felt_c(t_s, found.lag_s)
    return np.asarray(cents - found.cents_per_k * (felt_c - felt_c[0]))


def _drawn(t_s: Array, cents: Array, found: Forecast) -> _Drawn:
    seen = np.isfinite(cents)
    t_s, cents = t_s[seen], cents[seen]
    if not t_s.size:
        t_s, cents = np.zeros(1), np.zeros(1)
    start_s, now_s = float(t_s[0]), float(t_s[-1] - t_s[0])
    latest_s = found.ready_in_high_s if math.isfinite(found.ready_in_high_s) else 0.0
    ahead_s = min(max(found.horizon_s, 1.15 * latest_s), _FURTHEST_S)
    curve_s = np.linspace(0.0, now_s + ahead_s, 240)
    middle, low, high = found.curve(start_s + curve_s)
    end = float(middle[-1]) if np.isfinite(middle[-1]) else float(cents[-1])
    group = math.ceil(t_s.size / _MOST_DOTS)
    whole = t_s.size // group * group
    return _Drawn(
        t_s[:whole].reshape(-1, group).mean(axis=1) - start_s,
        cents[:whole].reshape(-1, group).mean(axis=1) - end,
        curve_s,
        middle - end,
        low - end,
        high - end,
        now_s,
    )


def _scale(drawn: _Drawn, found: Forecast) -> _Scale:
    heard = np.quantile(drawn.cents, [0.002, 0.998])
    ahead = drawn.curve_s >= drawn.now_s
    shown = [*heard, found.tolerance_cents * 1.3, -found.tolerance_cents * 1.3]
    if np.isfinite(drawn.low).all():
        # An open forecast may reach far: the readings must stay legible beside it.
        far = 1.2 * float(np.ptp(heard)) + 3.0 * found.tolerance_cents
        shown += [max(float(np.min(drawn.low[ahead])), -far)]
        shown += [min(float(np.max(drawn.high[ahead])), far)]
    bottom, top = min(shown), max(shown)
    room = 0.07 * (top - bottom)
    return _Scale(float(drawn.curve_s[-1]), bottom - room, top + room)


def _draw_grid(pen: Pen, scale: _Scale, drawn: _Drawn, found: Forecast) -> None:
    ink = pen.palette
    if found.readiness is not Readiness.TOO_EARLY:
        above, below = scale.y(found.tolerance_cents), scale.y(-found.tolerance_cents)
        pen.box(Box(LEFT - 10, above, RIGHT + 10, below), ink.band, z=0.5)
    amounts, decimals = ticks(scale.bottom_cents, scale.top_cents, 6)
    for at in amounts:
        y, zero = scale.y(at), at == 0.0
        pen.line(
            [LEFT - 10, RIGHT + 10],
            [y, y],
            ink.soft if zero else ink.rule,
            1.1 if zero else 0.8,
            z=1.0,
        )
        label = "0" if zero else signed(at, decimals)
        pen.text(LEFT - 18, y + 4, label, 11, ink.soft, across="right")
    pen.text(LEFT - 18, _TOP - 16, "cents", 11, ink.soft, across="right")
    step_min = next(
        (s for s in _STEPS_MIN if scale.end_s / _MINUTE_S / s <= 12.0), scale.end_s / _MINUTE_S
    )
    hours = step_min >= 60.0
    for k in range(math.floor(scale.end_s / _MINUTE_S / step_min) + 1):
        minutes = k * step_min
        x = scale.x(minutes * _MINUTE_S)
        pen.line([x, x], [_TOP, _BOTTOM + 6], ink.rule, 0.8, z=0.8)
        label = f"{minutes / 60.0:g}" if hours else f"{minutes:g}"
        pen.text(x, _BOTTOM + 22, label, 11, ink.soft, across="center")
    unit = "hours" if hours else "minutes"
    pen.text(RIGHT + 10, _BOTTOM + 40, f"{unit} since the start", 11, ink.soft, across="right")
    known = np.isfinite(drawn.middle).all()
    caption = f"from {'where it comes to rest' if known else 'the last reading'}"
    if scale.x(drawn.now_s) > LEFT + text_width(caption, 11) + 20.0:
        pen.text(LEFT - 6, _TOP - 16, caption, 11, ink.soft)
    else:
        pen.text(RIGHT + 10, _TOP - 16, caption, 11, ink.soft, across="right")


def _draw_forecast(pen: Pen, scale: _Scale, drawn: _Drawn) -> None:
    if not np.isfinite(drawn.middle).all():
        return
    ink = pen.palette
    heard, ahead = drawn.curve_s <= drawn.now_s, drawn.curve_s >= drawn.now_s
    for edge in (drawn.low, drawn.high):
        _path(pen, scale, drawn.curve_s[ahead], edge[ahead], ink.soft, 0.9, (1.5, 2.5))
    _path(pen, scale, drawn.curve_s[ahead], drawn.middle[ahead], ink.strong, 1.8, (5, 3))
    _path(pen, scale, drawn.curve_s[heard], drawn.middle[heard], ink.strong, 1.8)


def _path(
    pen: Pen,
    scale: _Scale,
    t_s: Array,
    cents: Array,
    colour: str,
    width: float,
    dashes: Dashes = (),
) -> None:
    inside = (cents >= scale.bottom_cents) & (cents <= scale.top_cents)
    x = [scale.x(float(t)) for t in t_s]
    y = [scale.y(float(c)) if fits else math.nan for c, fits in zip(cents, inside, strict=True)]
    pen.line(x, y, colour, width, dashes=dashes, z=4.0)
    outside = np.flatnonzero(~inside[1:] & inside[:-1])
    for i in outside:
        way = "▲" if cents[i + 1] > 0.0 else "▼"
        edge = _TOP + 10.0 if cents[i + 1] > 0.0 else _BOTTOM - 4.0
        size = f"{way} {abs(float(cents[-1])):.0f}"
        pen.text(x[i], edge, size, 10, pen.palette.soft, across="center")


def _draw_readings(pen: Pen, scale: _Scale, drawn: _Drawn) -> None:
    inside = (drawn.cents >= scale.bottom_cents) & (drawn.cents <= scale.top_cents)
    pen.marks(
        [scale.x(float(t)) for t in drawn.t_s[inside]],
        [scale.y(float(c)) for c in drawn.cents[inside]],
        "o",
        2.4,
        pen.palette.faint,
        z=3.0,
    )


def _draw_now(pen: Pen, scale: _Scale, now_s: float) -> None:
    x = scale.x(now_s)
    pen.line([x, x], [_TOP - 4, _BOTTOM + 6], pen.palette.ink, 1.1, z=5.0)
    pen.text(x, _TOP - 10, "now", 12, pen.palette.ink, bold=True, across="center")


def _draw_ready(pen: Pen, scale: _Scale, now_s: float, found: Forecast) -> None:
    """Draw the bar that says from when on it is ready, with words beside it."""
    ink, y = pen.palette, 494.0
    if found.readiness is Readiness.TOO_EARLY:
        pen.text(LEFT - 10, y + 4, "ready: not known yet", 12, ink.soft)
        return
    end_s = scale.end_s
    if found.readiness is Readiness.NEVER_SETTLES:
        pen.text(LEFT - 10, y + 4, "warm, but it wanders more than is allowed", 12, ink.soft)
        return
    first = scale.x(min(now_s + found.ready_in_low_s, end_s))
    middle = scale.x(min(now_s + found.ready_in_s, end_s))
    last = scale.x(min(now_s + found.ready_in_high_s, end_s))
    if last > first:
        pen.line([first, last], [y, y], ink.within, 1.6, dashes=(2, 2), z=3.0)
        for x in (first, last):
            pen.line([x, x], [y - 5, y + 5], ink.within, 1.4, z=3.0)
    if middle < RIGHT - 1.0:
        pen.line([middle, RIGHT + 10], [y, y], ink.within, 5.0, z=3.5)
    words = "ready" if found.readiness is Readiness.READY else "ready from here, most likely"
    at = min(middle, RIGHT - text_width(words, 12))
    pen.text(at, y + 22, words, 12, ink.within)
    if math.isinf(found.ready_in_high_s) or now_s + found.ready_in_high_s > end_s:
        pen.text(RIGHT + 10, y - 10, "▶ or later", 11, ink.soft, across="right")


def _draw_key(pen: Pen, found: Forecast) -> None:
    ink, y = pen.palette, _BOTTOM + 40.0
    x = LEFT - 10.0
    pen.marks([x + 6], [y - 4], "o", 3.4, ink.faint)
    pen.text(x + 16, y, "heard", 11, ink.soft)
    if found.readiness is Readiness.TOO_EARLY:
        return
    pen.line([x + 64, x + 90], [y - 4, y - 4], ink.strong, 1.8)
    pen.text(x + 96, y, "fitted", 11, ink.soft)
    pen.line([x + 144, x + 170], [y - 4, y - 4], ink.strong, 1.8, dashes=(5, 3))
    pen.text(x + 176, y, "forecast", 11, ink.soft)
    pen.line([x + 238, x + 264], [y - 4, y - 4], ink.soft, 0.9, dashes=(1.5, 2.5))
    pen.text(x + 270, y, "nine in ten between", 11, ink.soft)
    pen.box(Box(x + 394, y - 10, x + 414, y + 2), ink.band)
    pen.text(x + 420, y, f"within ±{found.tolerance_cents:g} of rest", 11, ink.soft)


def _draw_facts(pen: Pen, found: Forecast, steadiness: Steadiness | None) -> None:
    ink = pen.palette
    pen.line([LEFT - 10, RIGHT + 10], [536, 536], ink.rule, 0.8)
    minutes = f"in {found.horizon_s / _MINUTE_S:.0f} minutes"
    facts: list[tuple[str, str, str]] = []
    if found.readiness is not Readiness.TOO_EARLY:
        facts += [
            ("warm-up still to come", _size(found.drift_cents), minutes),
            (
                "wander",
                f"±{found.wander_cents:.2f} cents",
                f"{minutes}, ±{expanded_u(found.u_wander_cents):.2f} (k = 2)",
            ),
        ]
    if found.knows_temperature:
        spread = f"± {expanded_u(found.u_cents_per_k):.2f} (k = 2)"
        facts.append(("temperature", f"{signed(found.cents_per_k)} cents/K", spread))
    else:
        told = math.isfinite(found.cents_per_k)
        more = "too little change seen yet" if told else "no thermometer was read"
        facts.append(("temperature", "not known", more))
    if steadiness is not None:
        best = in_words(steadiness.best_tau_s, fine=True)
        facts.append(
            ("best time for a reading", best, f"Allan deviation {steadiness.best_cents:.2g} cents")
        )
    for i, (label, figure, more) in enumerate(facts):
        x = LEFT - 10 + i * 228.0
        pen.text(x, 562, label, 11, ink.soft)
        pen.text(x, 583, figure, 16, ink.ink, bold=True)
        pen.text(x, 600, more, 11, ink.soft)


def _size(cents: float) -> str:
    return f"{cents:.2f} cents" if cents >= 0.01 else "under 0.01 cents"
