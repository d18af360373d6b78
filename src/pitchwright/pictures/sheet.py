"""The sheet: a tracking curve over a keyboard strip, as a picture that explains itself.

Everything is drawn in pixels on one blank canvas, so that what is said stays where it was put. The
file is the same, byte for byte, for the same survey.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from pitchwright.pictures.chart_paper import LEFT, RIGHT, WIDTH, draw_foot, draw_head
from pitchwright.pictures.faces import text_width
from pitchwright.pictures.figures import signed
from pitchwright.pictures.note_chart import Frame, draw_grid, draw_keyboard
from pitchwright.pictures.palette import Theme
from pitchwright.pictures.pen import Dashes, Pen, blank_canvas, finished_svg, plain_line
from pitchwright.pictures.placing import Box, Labels
from pitchwright.pictures.scale import strip
from pitchwright.tracking import CurveEntry, OscillatorSurvey, Reach, TermState
from pitchwright.tracking.advice import Turn
from pitchwright.units import note_name

__all__ = ["sheet_svg"]

HEIGHT: Final = 700.0
_TOP, _BOTTOM = 172.0, 452.0
_KEYS, _KEY_HEIGHT = 464.0, 38.0


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
    pen = blank_canvas(WIDTH, HEIGHT)
    kicker = f"tracking curve against {survey.target.words}"
    if conditions:
        kicker += f" · {conditions}"
    draw_head(pen, survey.name, kicker, said, _to_turn(survey))
    _draw_curves(pen, survey, before)
    _draw_facts(pen, survey)
    draw_foot(pen, 687, _foot(survey), invented=invented)
    more = _description(survey, before, plain_line(conditions), invented)
    return finished_svg(pen, said, more, theme)


def _to_turn(survey: OscillatorSurvey) -> str:
    """What to turn, all of it in one sentence; the first advice where no turns are advised."""
    turns = [one for one in survey.advised if isinstance(one, Turn)]
    if len(turns) < 2:
        return survey.advice[0]
    steps = []
    for one in turns:
        name = "the high end" if one.trimmer == "high" else one.trimmer
        if one.against is None:
            until = f"until {note_name(one.note)} reads {signed(one.stop_at_cents or 0.0, 1)}"
        else:
            way = "risen" if one.cents > 0.0 else "fallen"
            until = f"until {note_name(one.note)} has {way} by {abs(one.cents):.1f} cents against "
            until += note_name(one.against)
        steps.append(f"{name} {until}")
    return f"Turn {'; then '.join(steps)}."


def _draw_curves(pen: Pen, survey: OscillatorSurvey, before: OscillatorSurvey | None) -> None:
    tightest = min(survey.reaches, key=lambda r: r.tolerance_cents)
    scale = _scale(survey, before, tightest.tolerance_cents)
    ink = pen.palette
    draw_grid(pen, scale, "cents", band=tightest.tolerance_cents)
    labels = Labels(Box(LEFT - 6, _TOP + 2, RIGHT + 6, _BOTTOM - 2))
    several = len(survey.curve.entries) > 1
    if before is not None:
        _draw_model(pen, scale, before, ink.faint, dashes=(4, 3))
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
    draw_keyboard(pen, scale, _KEYS, _KEY_HEIGHT)
    _draw_reaches(pen, scale, survey)


def _scale(survey: OscillatorSurvey, before: OscillatorSurvey | None, tolerance: float) -> Frame:
    entries = survey.curve.trusted or survey.curve.entries
    both = [*survey.curve.entries, *(before.curve.entries if before else ())]
    low, high = strip(e.note for e in both)
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
    return Frame(low, high, bottom - room, top + room, _TOP, _BOTTOM)


def _top(entry: CurveEntry, way: float = 1.0) -> float:
    # One very unsure note must not flatten the others.
    return way * entry.cents + min(entry.expanded_cents, abs(entry.cents) + 1.0)


def _draw_model(
    pen: Pen, scale: Frame, survey: OscillatorSurvey, colour: str, dashes: Dashes = ()
) -> None:
    for run in _model_runs(scale, survey):
        pen.line([x for x, _ in run], [y for _, y in run], colour, 1.6, dashes=dashes, z=3.0)


def _model_runs(scale: Frame, survey: OscillatorSurvey) -> list[list[tuple[float, float]]]:
    """The fitted model from the first to the last measured note, where it is inside."""
    entries = survey.curve.entries
    low, high = entries[0].note, entries[-1].note
    runs: list[list[tuple[float, float]]] = [[]]
    steps = max(int((high - low) * 2), 1)
    for i in range(steps + 1):
        note = low + (high - low) * i / steps
        cents = survey.model.cents_at(note)
        if scale.least <= cents <= scale.most:
            runs[-1].append((scale.x(note), scale.y(cents)))
        elif runs[-1]:
            runs.append([])
    return [run for run in runs if len(run) > 1]


def _block_model(labels: Labels, scale: Frame, survey: OscillatorSurvey) -> None:
    for run in _model_runs(scale, survey):
        labels.block(Box(x - 3, y - 4, x + 3, y + 4) for x, y in run)


def _draw_points(
    pen: Pen,
    scale: Frame,
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
        if not scale.least <= e.cents <= scale.most:
            above = e.cents > scale.most
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
            pen.line([x, x], [high, low], shade, 1.2 if crowded else 1.8, z=4.0)
            if low - high > 2.4 * size:  # caps only where there is a bar to see
                for end in (high, low):
                    pen.line([x - size / 2, x + size / 2], [end, end], shade, 1.2, z=4.0)
            pen.marks(
                [x],
                [y],
                "D" if e.doubt else "o",
                size,
                pen.palette.paper if e.doubt else shade,
                edge=shade if e.doubt else pen.palette.paper,
                edge_width=1.8 if e.doubt else 1.0,
                z=5.0,
            )
        else:
            pen.marks([x], [y], "x", 0.8 * size, colour, edge_width=1.5, z=3.5)
    for e in entries:
        if e.doubt and not cross and scale.least <= e.cents <= scale.most:
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
    pen.marks([x], [y], "^" if above else "v", 6.5, shade, z=5.0)
    figure = signed(entry.cents, 0) + (" ?" if entry.doubt else "")
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
    scale: Frame,
    entries: Sequence[CurveEntry],
    words: str,
    labels: Labels,
    colour: str,
    where: float,
) -> None:
    inside = [e for e in entries if scale.least <= e.cents <= scale.most]
    if inside:
        at = inside[round(where * (len(inside) - 1))]
        _write(pen, labels, words, 12.5, scale.x(at.note), scale.y(at.cents), colour, bold=True)


def _name_worst(pen: Pen, scale: Frame, worst: CurveEntry, labels: Labels) -> None:
    digits = 1 if worst.expanded_cents >= 0.095 else 2
    figure = f"{signed(worst.cents, digits)} ± {worst.expanded_cents:.{digits}f}"
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
            z=2.5,
        )
    pen.text(cx, cy + 0.36 * size, words, size, colour, bold=bold, across="center")


def _draw_key(pen: Pen, survey: OscillatorSurvey, tolerance: float, *, compared: bool) -> None:
    """What the marks mean, in one line above the picture."""
    ink, y, x = pen.palette, _TOP - 18.0, LEFT + 40

    def item(words: str, width: float) -> None:
        nonlocal x
        pen.text(x + width + 7, y + 4, words, 11, ink.soft)
        x += width + 7 + text_width(words, 11) + 20

    pen.line([x + 5, x + 5], [y - 8, y + 8], ink.strong, 1.8)
    pen.marks([x + 5], [y], "o", 7.6, ink.strong)
    item("measured, and what covers 95 %", 10)
    if compared:
        pen.marks([x + 5], [y], "x", 6.0, ink.faint, edge_width=1.5)
        item("as found", 10)
    if len(survey.curve.entries) > 1:
        pen.line([x, x + 22], [y, y], ink.strong, 1.6)
        item("fitted model", 22)
    pen.box(Box(x, y - 6, x + 22, y + 6), ink.band, z=2.0)
    item(f"within ±{tolerance:g} cent{'' if tolerance == 1.0 else 's'}", 22)


def _draw_reaches(pen: Pen, scale: Frame, survey: OscillatorSurvey) -> None:
    """One bar a tolerance, with its words beside or on it."""
    ink = pen.palette
    first, last = scale.x(survey.curve.entries[0].note), scale.x(survey.curve.entries[-1].note)
    for row, r in enumerate(sorted(survey.reaches, key=lambda r: r.tolerance_cents)[:3]):
        y = (_KEYS + _KEY_HEIGHT) + 36.0 + 21.0 * row
        words = _reach_words(r)
        pen.line([first, last], [y, y], ink.rule, 1.0, z=2.0)
        if r.low is None or r.high is None:
            width = text_width(words, 11) + 14
            x = min(max((first + last) / 2, LEFT - 10 + width / 2), RIGHT + 10 - width / 2)
        else:
            left, right = scale.x(r.low), scale.x(r.high)
            if r.low == r.high:
                left, right = left - 3, right + 3
            pen.line(
                [left, right],
                [y, y],
                ink.within,
                4.0 if row else 5.0,
                z=3.0,
                cap="butt",
            )
            for end in (left, right):
                pen.line([end, end], [y - 6, y + 6], ink.within, 1.8, z=3.0, cap="butt")
            width = text_width(words, 11) + 14
            if right + 8 + width <= RIGHT + 20:
                x = right + 8 + width / 2
            elif left - 8 - width >= LEFT - 40:
                x = left - 8 - width / 2
            else:
                x = min(max((left + right) / 2, LEFT - 10 + width / 2), RIGHT + 10 - width / 2)
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
            signed(model.base_cents, _digits(model.base_cents)),
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
                signed(value, _digits(value)),
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
            ("high end", signed(value, _digits(value)), f"± {_size(factor * u)} cents/kHz")
        )
    facts.append(
        (
            "worst note",
            f"{note_name(worst.note)} {signed(worst.cents, _digits(worst.cents))}",
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
        x = LEFT - 10 + i * 186.0
        pen.text(x, 622, label, 11, ink.soft)
        pen.text(x, 643, value_words, 16, ink.ink, bold=True)
        pen.text(x, 660, more, 11, ink.soft)


def _foot(survey: OscillatorSurvey) -> str:
    notes = ["Only measured notes count; nothing is claimed between them."]
    if survey.u_common_cents > 0.0:
        notes.append("The recorder’s clock adds to the reach, not to the bars.")
    return " ".join(notes)


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


def _digits(cents: float) -> int:
    return 2 if abs(cents) < 9.95 else 1


def _size(cents: float | None) -> str:
    if cents is None:
        return "?"
    return f"{cents:.2f}" if cents < 0.995 else f"{cents:.1f}"
