"""The sheet: a tracking curve over a keyboard strip, as a picture that explains itself.

Everything is drawn in pixels on one blank canvas, so that what is said stays where it was put. The
file is the same, byte for byte, for the same survey.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from pitchwright.certificate.keyboard import keys
from pitchwright.certificate.palette import Theme
from pitchwright.certificate.pen import Pen, blank_canvas, finished_svg, plain_line
from pitchwright.certificate.placing import Box, Labels, text_width
from pitchwright.tracking import CurveEntry, OscillatorSurvey, Reach, TermState
from pitchwright.units import note_name

__all__ = ["sheet_svg"]

WIDTH: Final = 1000.0
HEIGHT: Final = 700.0
_LEFT, _RIGHT = 74.0, 966.0
_TOP, _BOTTOM = 172.0, 452.0
_KEYS: Final = (464.0, 502.0)


@dataclass(frozen=True, slots=True)
class _Scale:
    """From notes and cents to pixels."""

    low: float
    high: float
    bottom_cents: float
    top_cents: float

    def x(self, note: float) -> float:
        return _LEFT + (note - self.low) / (self.high - self.low) * (_RIGHT - _LEFT)

    def y(self, cents: float) -> float:
        share = (cents - self.bottom_cents) / (self.top_cents - self.bottom_cents)
        return _BOTTOM - share * (_BOTTOM - _TOP)

    def held(self, cents: float) -> float:
        return min(max(cents, self.bottom_cents), self.top_cents)


def sheet_svg(
    survey: OscillatorSurvey,
    *,
    before: OscillatorSurvey | None = None,
    title: str = "",
    conditions: str = "",
    invented: bool = False,
    theme: Theme = "system",
) -> str:
    """Draw the sheet of a survey as SVG.

    Parameters
    ----------
    survey
        What is shown strong; its tightest tolerance is the band.
    before
        The same oscillator as found, shown faint.
    title
        The sentence at the top; the survey's own headline where empty.
    conditions
        Date, temperature, what it was fed by: one line, may be empty.
    invented
        Whether the data are invented; the sheet then says so.
    theme
        Light, dark, or whichever the system that shows it prefers.

    Returns
    -------
    str
        A whole SVG document, the same for the same arguments, with title and description for
        those who do not see it.
    """
    said = plain_line(title) or _headline(survey, before)
    pen = blank_canvas(WIDTH, HEIGHT, theme)
    _draw_head(pen, survey, said, plain_line(conditions))
    _draw_curves(pen, survey, before)
    _draw_facts(pen, survey)
    _draw_foot(pen, survey, invented)
    more = _description(survey, before, plain_line(conditions), invented)
    return finished_svg(pen, said, more, theme)


def _draw_head(pen: Pen, survey: OscillatorSurvey, said: str, conditions: str) -> None:
    name = _short(plain_line(survey.name), 48)
    kicker = f"tracking curve against {survey.target.words}"
    if conditions:
        kicker += f" · {conditions}"
    room = WIDTH - 34.0 - 24.0 - text_width(name, 15) - 24.0
    pen.text(34, 42, name, 15, pen.palette.ink, bold=True)
    kicker = _short(kicker, int(room / text_width("x", 11.5)))
    pen.text(_RIGHT + 10, 42, kicker, 11.5, pen.palette.soft, across="right")
    y = 78.0
    for line in textwrap.wrap(said, 80, max_lines=2, placeholder=" …"):
        pen.text(34, y, line, 20, pen.palette.ink, serif=True)
        y += 27
    rest = textwrap.wrap(survey.advice[0], 135, max_lines=1 if y > 110 else 2, placeholder=" …")
    for i, line in enumerate(rest):
        pen.text(34, y + 17 * i, line, 12, pen.palette.soft)


def _draw_curves(pen: Pen, survey: OscillatorSurvey, before: OscillatorSurvey | None) -> None:
    tightest = min(survey.reaches, key=lambda r: r.tolerance_cents)
    scale = _scale(survey, before, tightest.tolerance_cents)
    ink = pen.palette
    _draw_grid(pen, scale, tightest.tolerance_cents)
    labels = Labels(Box(_LEFT - 6, _TOP + 2, _RIGHT + 6, _BOTTOM - 2))
    several = len(survey.curve.entries) > 1
    if before is not None:
        _draw_model(pen, scale, before, ink.faint, dashes=(0, (4, 3)))
        _draw_points(pen, scale, before.curve.entries, labels, ink.faint, cross=True)
    if several:
        _draw_model(pen, scale, survey, ink.strong)
    _draw_points(pen, scale, survey.curve.entries, labels, ink.strong, cross=False)
    _block_model(labels, scale, survey)
    if before is not None:
        _block_model(labels, scale, before)
        _name_curve(pen, scale, before.curve.entries, "as found", labels, ink.soft, 0.82)
        _name_curve(pen, scale, survey.curve.entries, "as left", labels, ink.strong, 0.14)
    if several:
        _name_worst(pen, scale, survey.worst_trusted, labels)
    _draw_key(pen, survey, tightest.tolerance_cents, compared=before is not None)
    _draw_keyboard(pen, scale)
    _draw_reaches(pen, scale, survey)


def _scale(survey: OscillatorSurvey, before: OscillatorSurvey | None, tolerance: float) -> _Scale:
    entries = survey.curve.trusted or survey.curve.entries
    both = [*survey.curve.entries, *(before.curve.entries if before else ())]
    low = math.floor(min(e.note for e in both))
    high = math.ceil(max(e.note for e in both))
    if high - low < 24:  # a strip of a few keys is hard to read as a keyboard
        low, high = low - (24 - high + low) // 2, high + (25 - high + low) // 2
    top = max(1.5 * tolerance, *(_top(e) for e in entries))
    bottom = min(-1.5 * tolerance, *(-_top(e, -1.0) for e in entries))
    for e in survey.curve.entries:  # a doubted note is shown where it leaves the rest legible
        if e.doubt and abs(e.cents) < 3.0 * (top - bottom):
            top, bottom = max(top, e.cents), min(bottom, e.cents)
    if before:
        # As found is shown as far as that leaves as left legible; beyond, arrows say how far.
        far = 12.0 * max(tolerance, (top - bottom) / 8.0)
        top = max(top, min(far, max(e.cents for e in before.curve.entries)))
        bottom = min(bottom, max(-far, min(e.cents for e in before.curve.entries)))
    room = 0.09 * (top - bottom)
    return _Scale(low, high, bottom - room, top + room)


def _top(entry: CurveEntry, way: float = 1.0) -> float:
    # One very unsure note must not flatten the others.
    return way * entry.cents + min(entry.expanded_cents, abs(entry.cents) + 1.0)


def _draw_grid(pen: Pen, scale: _Scale, tolerance: float) -> None:
    ink = pen.palette
    above, below = scale.y(tolerance), scale.y(-tolerance)
    pen.box(Box(_LEFT - 10, above, _RIGHT + 10, below), ink.band, z=0.5)
    step = _nice_step((scale.top_cents - scale.bottom_cents) / 6.0)
    digits = max(0, -math.floor(math.log10(step) + 1e-9))
    first = math.ceil(scale.bottom_cents / step)
    for i in range(first, math.floor(scale.top_cents / step) + 1):
        y = scale.y(i * step)
        zero = i == 0
        pen.line(
            [_LEFT - 10, _RIGHT + 10],
            [y, y],
            ink.soft if zero else ink.rule,
            1.1 if zero else 0.8,
            zorder=1.0,
        )
        pen.text(_LEFT - 18, y + 4, _signed(i * step, digits), 11, ink.soft, across="right")
    pen.text(_LEFT - 18, _TOP - 16, "cents", 11, ink.soft, across="right")
    for note in range(int(scale.low), int(scale.high) + 1):
        if note % 12 == 0:
            x = scale.x(note)
            pen.line([x, x], [_TOP, _BOTTOM + 8], ink.rule, 0.8, zorder=0.8)


def _draw_model(
    pen: Pen, scale: _Scale, survey: OscillatorSurvey, colour: str, dashes: Any = "solid"
) -> None:
    for run in _model_runs(scale, survey):
        pen.line(
            [x for x, _ in run], [y for _, y in run], colour, 1.6, linestyle=dashes, zorder=3.0
        )


def _model_runs(scale: _Scale, survey: OscillatorSurvey) -> list[list[tuple[float, float]]]:
    """The fitted model from the first to the last measured note, where it is inside."""
    entries = survey.curve.entries
    low, high = entries[0].note, entries[-1].note
    runs: list[list[tuple[float, float]]] = [[]]
    steps = max(int((high - low) * 2), 1)
    for i in range(steps + 1):
        note = low + (high - low) * i / steps
        cents = survey.model.cents_at(note)
        if scale.bottom_cents <= cents <= scale.top_cents:
            runs[-1].append((scale.x(note), scale.y(cents)))
        elif runs[-1]:
            runs.append([])
    return [run for run in runs if len(run) > 1]


def _block_model(labels: Labels, scale: _Scale, survey: OscillatorSurvey) -> None:
    for run in _model_runs(scale, survey):
        labels.block(Box(x - 3, y - 4, x + 3, y + 4) for x, y in run)


def _draw_points(
    pen: Pen,
    scale: _Scale,
    entries: Sequence[CurveEntry],
    labels: Labels,
    colour: str,
    *,
    cross: bool,
) -> None:
    crowded = len(entries) > 40
    size = 4.6 if crowded else 7.6
    last_figure = {True: -1e9, False: -1e9}
    for e in entries:
        x = scale.x(e.note)
        if not scale.bottom_cents <= e.cents <= scale.top_cents:
            above = e.cents > scale.top_cents
            last_figure[above] = _draw_beyond(pen, e, x, above, colour, last_figure[above])
            labels.block(
                [
                    Box(x - 18, _TOP, x + 18, _TOP + 24)
                    if above
                    else Box(x - 18, _BOTTOM - 24, x + 18, _BOTTOM)
                ]
            )
            continue
        y = scale.y(e.cents)
        high, low = (scale.y(scale.held(e.cents + w * e.expanded_cents)) for w in (1.0, -1.0))
        labels.block([Box(x - size, min(high, y - size), x + size, max(low, y + size))])
        if not cross:
            shade = pen.palette.doubt if e.doubt else colour
            pen.line([x, x], [high, low], shade, 1.2 if crowded else 1.8, zorder=4.0)
            if low - high > 2.4 * size:  # caps only where there is a bar to see
                for end in (high, low):
                    pen.line([x - size / 2, x + size / 2], [end, end], shade, 1.2, zorder=4.0)
            pen.line(
                [x],
                [y],
                shade,
                0.0,
                marker="D" if e.doubt else "o",
                markersize=size,
                markerfacecolor=pen.palette.paper if e.doubt else shade,
                markeredgecolor=shade if e.doubt else pen.palette.paper,
                markeredgewidth=1.8 if e.doubt else 1.0,
                zorder=5.0,
            )
        else:
            pen.line(
                [x],
                [y],
                colour,
                0.0,
                marker="x",
                markersize=0.8 * size,
                markeredgewidth=1.5,
                zorder=3.5,
            )
    for e in entries:
        if e.doubt and not cross and scale.bottom_cents <= e.cents <= scale.top_cents:
            _write(
                pen,
                labels,
                f"{note_name(e.note)} in doubt",
                11,
                scale.x(e.note),
                scale.y(e.cents),
                pen.palette.doubt,
            )


def _draw_beyond(
    pen: Pen, entry: CurveEntry, x: float, above: bool, colour: str, last_x: float
) -> float:
    """An arrow at the edge, with its figure where there is room for one more."""
    shade = pen.palette.doubt if entry.doubt else colour
    y = _TOP + 3 if above else _BOTTOM - 3
    pen.line(
        [x],
        [y],
        shade,
        0.0,
        marker="^" if above else "v",
        markersize=6.5,
        markeredgewidth=0.0,
        zorder=5.0,
    )
    figure = _signed(entry.cents, 0) + (" ?" if entry.doubt else "")
    if x - last_x < text_width(figure, 10.5) + 16:
        return last_x
    pen.text(
        x,
        y + (15 if above else -8),
        figure,
        10.5,
        shade if entry.doubt else pen.palette.soft,
        across="center",
    )
    return x


def _name_curve(
    pen: Pen,
    scale: _Scale,
    entries: Sequence[CurveEntry],
    words: str,
    labels: Labels,
    colour: str,
    where: float,
) -> None:
    inside = [e for e in entries if scale.bottom_cents <= e.cents <= scale.top_cents]
    if inside:
        at = inside[round(where * (len(inside) - 1))]
        _write(pen, labels, words, 12.5, scale.x(at.note), scale.y(at.cents), colour, bold=True)


def _name_worst(pen: Pen, scale: _Scale, worst: CurveEntry, labels: Labels) -> None:
    digits = 1 if worst.expanded_cents >= 0.095 else 2
    figure = f"{_signed(worst.cents, digits)} ± {worst.expanded_cents:.{digits}f}"
    words = f"worst: {note_name(worst.note)} {figure}"
    _write(
        pen,
        labels,
        words,
        11.5,
        scale.x(worst.note),
        scale.y(scale.held(worst.cents)),
        pen.palette.ink,
    )


def _write(
    pen: Pen,
    labels: Labels,
    words: str,
    size: float,
    x: float,
    y: float,
    colour: str,
    *,
    bold: bool = False,
) -> None:
    box = labels.place(words, size, x, y)
    cx, cy = (box.left + box.right) / 2, (box.top + box.bottom) / 2
    near_x, near_y = min(max(x, box.left), box.right), min(max(y, box.top), box.bottom)
    away = math.hypot(near_x - x, near_y - y)
    if away > 16.0:  # far enough that a thin line must say which point is meant
        share = 8.0 / away
        pen.line(
            [x + (near_x - x) * share, near_x],
            [y + (near_y - y) * share, near_y],
            pen.palette.soft,
            0.7,
            zorder=2.5,
        )
    pen.text(cx, cy + 0.36 * size, words, size, colour, bold=bold, across="center")


def _draw_key(pen: Pen, survey: OscillatorSurvey, tolerance: float, *, compared: bool) -> None:
    """What the marks mean, in one line above the picture."""
    ink, y, x = pen.palette, _TOP - 20.0, _LEFT + 4

    def item(words: str, width: float) -> None:
        nonlocal x
        pen.text(x + width + 7, y + 4, words, 11, ink.soft)
        x += width + 7 + text_width(words, 11) + 20

    pen.line([x + 5, x + 5], [y - 8, y + 8], ink.strong, 1.8)
    pen.line([x + 5], [y], ink.strong, 0.0, marker="o", markersize=7.6, markeredgewidth=0.0)
    item("measured, and what covers 95 %", 10)
    if compared:
        pen.line([x + 5], [y], ink.faint, 0.0, marker="x", markersize=6.0, markeredgewidth=1.5)
        item("as found", 10)
    if len(survey.curve.entries) > 1:
        pen.line([x, x + 22], [y, y], ink.strong, 1.6)
        item("fitted model", 22)
    pen.box(Box(x, y - 6, x + 22, y + 6), ink.band, z=2.0)
    item(f"within ±{tolerance:g} cent{'' if tolerance == 1.0 else 's'}", 22)


def _draw_keyboard(pen: Pen, scale: _Scale) -> None:
    ink, (top, bottom) = pen.palette, _KEYS
    low, high = int(scale.low), int(scale.high)
    for key in keys(low, high):
        foot = top + 0.6 * (bottom - top) if key.black else bottom
        pen.box(
            Box(scale.x(key.left), top, scale.x(key.right), foot),
            ink.black_key if key.black else ink.white_key,
            ink.key_edge,
            0.4 if key.black else 0.7,
            z=2.1 if key.black else 2.0,
        )
    for note in range(low, high + 1):
        if note % 12 == 0:
            middle = note == 60
            pen.text(
                scale.x(note),
                bottom + 15,
                note_name(note),
                11.5,
                ink.ink if middle else ink.soft,
                bold=middle,
                across="center",
            )


def _draw_reaches(pen: Pen, scale: _Scale, survey: OscillatorSurvey) -> None:
    """One bar a tolerance, with its words beside or on it."""
    ink = pen.palette
    first, last = scale.x(survey.curve.entries[0].note), scale.x(survey.curve.entries[-1].note)
    for row, r in enumerate(sorted(survey.reaches, key=lambda r: r.tolerance_cents)[:3]):
        y = _KEYS[1] + 36.0 + 21.0 * row
        words = _reach_words(r)
        pen.line([first, last], [y, y], ink.rule, 1.0, zorder=2.0)
        if r.low is None or r.high is None:
            width = text_width(words, 11) + 14
            x = min(max((first + last) / 2, _LEFT - 10 + width / 2), _RIGHT + 10 - width / 2)
        else:
            left, right = scale.x(r.low), scale.x(r.high)
            if r.low == r.high:
                left, right = left - 3, right + 3
            pen.line(
                [left, right],
                [y, y],
                ink.within,
                4.0 if row else 5.0,
                zorder=3.0,
                solid_capstyle="butt",
            )
            for end in (left, right):
                pen.line(
                    [end, end], [y - 6, y + 6], ink.within, 1.8, zorder=3.0, solid_capstyle="butt"
                )
            width = text_width(words, 11) + 14
            if right + 8 + width <= _RIGHT + 20:
                x = right + 8 + width / 2
            elif left - 8 - width >= _LEFT - 40:
                x = left - 8 - width / 2
            else:
                x = min(max((left + right) / 2, _LEFT - 10 + width / 2), _RIGHT + 10 - width / 2)
        pen.box(Box(x - width / 2, y - 9, x + width / 2, y + 9), ink.paper, z=4.0)
        pen.text(x, y + 4, words, 11, ink.ink, bold=not row and r.low is not None, across="center")


def _reach_words(r: Reach) -> str:
    within = f"within ±{r.tolerance_cents:g} cent{'' if r.tolerance_cents == 1.0 else 's'}"
    if r.low is None or r.high is None:
        return f"{within}: no note for certain"
    if r.low == r.high:
        return f"{within}: {note_name(r.low)} only"
    return f"{within}: {note_name(r.low)} to {note_name(r.high)}"


def _draw_facts(pen: Pen, survey: OscillatorSurvey) -> None:
    """The figures, in a row under the picture."""
    model, ink = survey.model, pen.palette
    worst = survey.worst_trusted
    facts = [
        (
            f"base at {note_name(model.ref_note)}",
            _signed(model.base_cents, _digits(model.base_cents)),
            f"± {_size(model.base.expanded)} cents",
        )
    ]
    if model.scale_cents_per_oct is None:
        facts.append(("scale", "not known", "one note only"))
    else:
        value = model.scale_cents_per_oct
        facts.append(
            (
                "scale",
                _signed(value, _digits(value)),
                f"± {_size(model.scale.expanded)} cents/octave",
            )
        )
    if model.high.state is TermState.UNDETERMINED or model.high_cents_per_khz is None:
        add = model.high.add_note
        more = (
            f"add {note_name(add)} to see it"
            if add is not None and model.notes > 1
            else "too few notes"
        )
        facts.append(("high end", "not known", more))
    else:
        value, u = model.high_cents_per_khz, model.u_high_cents_per_khz or 0.0
        factor = (model.high.expanded or 0.0) / (model.high.u or 1.0)
        facts.append(
            ("high end", _signed(value, _digits(value)), f"± {_size(factor * u)} cents/kHz")
        )
    facts.append(
        (
            "worst note",
            f"{note_name(worst.note)} {_signed(worst.cents, _digits(worst.cents))}",
            f"± {_size(worst.expanded_cents)} cents",
        )
    )
    told = len(survey.curve.trusted) > len(survey.best.trimmers)
    facts.append(
        (
            "best these trimmers can do",
            f"±{_size(survey.best_possible_cents)}" if told else "not known",
            "base, scale, high end" if told else "too few notes",
        )
    )
    for i, (label, value_words, more) in enumerate(facts):
        x = _LEFT - 10 + i * 186.0
        pen.text(x, 622, label, 11, ink.soft)
        pen.text(x, 643, value_words, 16, ink.ink, bold=True)
        pen.text(x, 660, more, 11, ink.soft)


def _draw_foot(pen: Pen, survey: OscillatorSurvey, invented: bool) -> None:
    notes = ["Only measured notes count; nothing is claimed between them."]
    if survey.u_common_cents > 0.0:
        notes.append("The recorder’s clock adds to the reach, not to the bars.")
    pen.text(_LEFT - 10, 687, " ".join(notes), 10, pen.palette.soft)
    if invented:
        pen.text(_RIGHT + 10, 687, "Invented data.", 10, pen.palette.ink, bold=True, across="right")


def _headline(survey: OscillatorSurvey, before: OscillatorSurvey | None) -> str:
    if before is None:
        return plain_line(survey.headline)
    was, now = before.worst_trusted, survey.worst_trusted
    return plain_line(
        f"{survey.name} was up to {abs(was.cents):.1f} cents off, at {note_name(was.note)}; now it "
        f"is up to {abs(now.cents):.1f} cents off, at {note_name(now.note)}."
    )


def _description(
    survey: OscillatorSurvey, before: OscillatorSurvey | None, conditions: str, invented: bool
) -> str:
    parts = [
        f"{e.cents:+.2f} ± {e.expanded_cents:.2f} at {note_name(e.note)}"
        for e in survey.curve.entries
    ]
    words = [*survey.sentences(), f"Cents, note by note: {', '.join(parts)}."]
    if before is not None:
        words.insert(0, f"As found: {before.headline} As left:")
    if conditions:
        words.append(f"{conditions}.")
    if invented:
        words.append("The data are invented.")
    return plain_line(" ".join(words))


def _short(words: str, most: int) -> str:
    return words if len(words) <= most else f"{words[: most - 1].rstrip()}…"


def _nice_step(least: float) -> float:
    size = 10.0 ** math.floor(math.log10(least))
    return next(size * m for m in (1.0, 2.0, 5.0, 10.0) if size * m >= least * (1.0 - 1e-9))


def _digits(cents: float) -> int:
    return 2 if abs(cents) < 9.95 else 1


def _size(cents: float | None) -> str:
    if cents is None:
        return "?"
    return f"{cents:.2f}" if cents < 0.995 else f"{cents:.1f}"


def _signed(cents: float, digits: int) -> str:
    text = f"{cents:+.{digits}f}"
    return text[1:] if float(text) == 0.0 else text.replace("-", "−")
