"""A planned detune: how fast every pair beats at every note, and the offsets that make it so."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from pitchwright.detune import DetunePlan, Distance, PairBeats
from pitchwright.pictures.chart_paper import LEFT, WIDTH, cut, draw_foot, draw_head
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
from pitchwright.pictures.placing import Box

__all__ = ["detune_svg"]

HEIGHT: Final = 682.0
_CURVES_RIGHT: Final = 792.0
_BEATS: Final = (186.0, 392.0)
_OFFSETS: Final = (434.0, 556.0)
_KEYS: Final = 566.0
_MOST_PAIRS: Final = 10


def detune_svg(
    plan: DetunePlan,
    today: Sequence[Distance] = (),
    *,
    invented: bool = False,
    theme: Theme = "system",
) -> str:
    """Draw beat rates and offsets of a planned detune, note by note, as SVG.

    Parameters
    ----------
    plan
        The plan.
    today
        How far today's readings are from it, where there are some.
    invented
        Whether the data are invented; the chart then says so.
    theme
        Light, dark, or whichever the system that shows it prefers.
    """
    pen = blank_canvas(WIDTH, HEIGHT)
    said = plan.sentences[0]
    more = " ".join((*plan.sentences[1:], *plan.warnings[:1], *(d.sentence for d in today[:1])))
    names = [cut(plain_line(voice.name), 20) for voice in plan.voices]
    draw_head(pen, ", ".join(names), f"planned detune: {plan.kind}", said, more)
    _draw_beats(pen, plan, today)
    _draw_offsets(pen, plan)
    note = "The leader's own curve is the zero line."
    if plan.kind == "even beats":
        note += " The band lies between the slowest and the fastest beat of the first pair."
    draw_foot(pen, HEIGHT - 18.0, note, invented=invented)
    words = [plain_line(sentence) for sentence in (*plan.sentences, *plan.warnings)]
    words += [plain_line(one.sentence) for one in today]
    if invented:
        words.append("The data are invented.")
    return finished_svg(pen, plain_line(said), " ".join(words), theme)


def _shown(plan: DetunePlan) -> list[PairBeats]:
    return list(plan.pairs[:_MOST_PAIRS])


def _draw_beats(pen: Pen, plan: DetunePlan, today: Sequence[Distance]) -> None:
    pairs = _shown(plan)
    low, high = plan.notes[0], plan.notes[-1]
    sizes = [abs(beat) for pair in pairs for beat in pair.beats_hz]
    heard = [abs(beat) for one in today for beat in one.beats_hz]
    far = max(sizes)
    most = max(far, min(max(heard, default=0.0), 2.0 * far))
    frame = Frame(low, high, 0.0, 1.1 * most, *_BEATS, LEFT, _CURVES_RIGHT)
    ink = pen.palette
    if plan.kind == "even beats":
        first = [abs(beat) for beat in pairs[0].beats_hz]
        top, bottom = frame.y(max(first)), frame.y(min(first))
        pen.box(Box(frame.left - 10, top, frame.right + 10, bottom), ink.band, z=0.5)
    draw_grid(pen, frame, "beats a second", sign=False, steps=5)
    names = []
    if plan.kind == "even beats":
        names += _draw_plain(pen, frame, plan)
    for pair, style in zip(pairs, styles(ink, len(pairs)), strict=True):
        size = [abs(beat) for beat in pair.beats_hz]
        draw_series(pen, frame, plan.notes, size, style, mark=0.0)
        both = f"{cut(plain_line(pair.lower), 9)}, {cut(plain_line(pair.upper), 9)}"
        names.append(EndName(both, frame.y(size[-1]), style.colour))
        for one in today:
            if one.pair == f"{pair.lower} and {pair.upper}":
                beats = [abs(beat) for beat in one.beats_hz]
                mark = Style(style.colour, style.marker)
                draw_series(pen, frame, one.notes, beats, mark, width=0.0, mark=7.0)
    if today:
        pen.text(frame.right + 10, frame.head - 14, "marks: today", 11, ink.soft, across="right")
    name_ends(pen, frame, names)


def _draw_plain(pen: Pen, frame: Frame, plan: DetunePlan) -> list[EndName]:
    """What the same cents at every note would do: double each octave from the slowest beat."""
    slowest = min(abs(beat) for beat in plan.pairs[0].beats_hz)
    beats = [slowest * 2.0 ** ((note - plan.notes[0]) / 12.0) for note in plan.notes]
    ink = pen.palette
    style = Style(ink.faint, "o", (1.5, 2.5))
    draw_series(pen, frame, plan.notes, beats, style, width=1.3, mark=0.0)
    inside = [n for n, beat in enumerate(beats) if frame.shows(beat)]
    if beats[-1] <= frame.most:
        return [EndName("the same cents", frame.y(beats[-1]), ink.soft, bold=False)]
    x = frame.x(plan.notes[inside[-1]])
    pen.text(x - 34, frame.head + 14, "the same cents everywhere", 11, ink.soft, across="right")
    return []


def _draw_offsets(pen: Pen, plan: DetunePlan) -> None:
    leader = plan.voices[0]
    others = plan.voices[1:]
    # An interval is not a detune: what is shown is what is added to it.
    offsets = [
        [
            a - b - (plan.interval.cents if plan.interval.cents > 1.0 else 0.0)
            for a, b in zip(voice.cents, leader.cents, strict=True)
        ]
        for voice in others
    ]
    every = [cents for offset in offsets for cents in offset]
    most, least = max(0.0, *every), min(0.0, *every)
    room = 0.1 * (most - least)
    frame = Frame(
        plan.notes[0],
        plan.notes[-1],
        least - room,
        most + room,
        *_OFFSETS,
        LEFT,
        _CURVES_RIGHT,
    )
    draw_grid(pen, frame, "cents above the leader", steps=4)
    names = []
    for voice, offset, style in zip(others, offsets, styles(pen.palette, len(others)), strict=True):
        plain = Style(style.colour, style.marker)
        draw_series(pen, frame, plan.notes, offset, plain, mark=0.0)
        end = f"{cut(plain_line(voice.name), 12)} {_at_end(offset)}"
        names.append(EndName(end, frame.y(offset[-1]), style.colour))
    name_ends(pen, frame, names)
    draw_keyboard(pen, frame, _KEYS)


def _at_end(offset: Sequence[float]) -> str:
    first, last = (f"{cents:+.1f}".replace("-", "−") for cents in (offset[0], offset[-1]))
    return first if math.isclose(offset[0], offset[-1], abs_tol=0.05) else f"{first} to {last}"
