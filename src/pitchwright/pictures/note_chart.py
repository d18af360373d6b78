"""What charts over a keyboard strip share: scale, grid, keys, curves, and names at their ends."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from pitchwright.pictures.chart_paper import LEFT, RIGHT
from pitchwright.pictures.figures import signed
from pitchwright.pictures.keyboard import keys as keys_between
from pitchwright.pictures.palette import Palette
from pitchwright.pictures.pen import Dashes, Mark, Pen
from pitchwright.pictures.placing import Box
from pitchwright.pictures.scale import ticks
from pitchwright.units import note_name

__all__ = [
    "EndName",
    "Frame",
    "Style",
    "draw_grid",
    "draw_keyboard",
    "draw_series",
    "name_ends",
    "styles",
]

_NAMES_APART: Final = 15.5


@dataclass(frozen=True, slots=True)
class Frame:
    """From notes and amounts to pixels.

    Attributes
    ----------
    low, high
        First and last note.
    least, most
        Smallest and greatest amount shown.
    head, foot
        Pixels of the greatest and of the smallest.
    left, right
        Pixels of the first and the last note.
    """

    low: float
    high: float
    least: float
    most: float
    head: float
    foot: float
    left: float = LEFT
    right: float = RIGHT

    def x(self, note: float) -> float:
        """Pixels from the left of a note."""
        return self.left + (note - self.low) / (self.high - self.low) * (self.right - self.left)

    def y(self, amount: float) -> float:
        """Pixels from the top of an amount."""
        share = (amount - self.least) / (self.most - self.least)
        return self.foot - share * (self.foot - self.head)

    def held(self, amount: float) -> float:
        """The amount, or the edge where it is outside."""
        return min(max(amount, self.least), self.most)

    def shows(self, amount: float) -> bool:
        """Whether an amount is inside."""
        return self.least <= amount <= self.most


@dataclass(frozen=True, slots=True)
class Style:
    """How one curve is told from the others: by colour, mark and dashes at once."""

    colour: str
    marker: Mark
    dashes: Dashes = ()


@dataclass(frozen=True, slots=True)
class EndName:
    """Words at the right end of a curve that ends at ``y``."""

    words: str
    y: float
    colour: str
    bold: bool = True


def styles(ink: Palette, count: int) -> list[Style]:
    """As many styles as wanted; no two alike up to twenty."""
    colours = (ink.strong, ink.doubt, ink.within, ink.ink)
    markers: tuple[Mark, ...] = ("o", "s", "^", "D", "v")
    dashes: tuple[Dashes, ...] = ((), (5, 2), (2, 2), (7, 2, 1.5, 2))
    return [
        Style(
            colours[place % len(colours)],
            markers[place % len(markers)],
            dashes[place % len(dashes)],
        )
        for place in range(count)
    ]


def draw_grid(
    pen: Pen,
    frame: Frame,
    unit: str,
    *,
    band: float = 0.0,
    sign: bool = True,
    steps: int = 6,
    keys: bool = True,
) -> None:
    """Lines across with their amounts, one down at every C over ``keys``, a band of ± ``band``."""
    ink = pen.palette
    if band:
        above = max(frame.y(band), frame.head)
        below = min(frame.y(-band), frame.foot)
        pen.box(Box(frame.left - 10, above, frame.right + 10, below), ink.band, z=0.5)
    amounts, decimals = ticks(frame.least, frame.most, steps)
    for at in amounts:
        y, zero = frame.y(at), at == 0.0
        pen.line(
            [frame.left - 10, frame.right + 10],
            [y, y],
            ink.soft if zero else ink.rule,
            1.1 if zero else 0.8,
            z=1.0,
        )
        amount = signed(at, decimals) if sign else f"{at:.{decimals}f}"
        pen.text(frame.left - 18, y + 4, amount, 11, ink.soft, across="right")
    pen.text(frame.left - 10, frame.head - 14, unit, 11, ink.soft)
    for note in range(math.ceil(frame.low), math.floor(frame.high) + 1) if keys else ():
        if note % 12 == 0:
            x = frame.x(note)
            pen.line([x, x], [frame.head, frame.foot + 8], ink.rule, 0.8, z=0.8)


def draw_keyboard(pen: Pen, frame: Frame, top: float, height: float = 34.0) -> None:
    """The keys, and the names of every C below them."""
    ink = pen.palette
    low, high = math.ceil(frame.low), math.floor(frame.high)
    for key in keys_between(low, high):
        foot = top + (0.6 if key.black else 1.0) * height
        pen.box(
            Box(frame.x(key.left), top, frame.x(key.right), foot),
            ink.black_key if key.black else ink.white_key,
            ink.key_edge,
            0.4 if key.black else 0.7,
            z=2.1 if key.black else 2.0,
        )
    for note in range(low, high + 1):
        if note % 12 == 0:
            colour = ink.ink if note == 60 else ink.soft
            x = frame.x(note)
            words = note_name(note)
            pen.text(x, top + height + 15, words, 11.5, colour, bold=note == 60, across="center")


def draw_series(
    pen: Pen,
    frame: Frame,
    notes: Sequence[float],
    amounts: Sequence[float],
    style: Style,
    *,
    width: float = 1.7,
    mark: float = 5.0,
    z: float = 4.0,
) -> None:
    """One curve, broken where it leaves the frame; marks where ``mark`` is above zero."""
    if width > 0.0:
        fine = np.unique(np.concatenate([np.linspace(notes[0], notes[-1], 400), notes]))
        line = np.interp(fine, notes, amounts)
        pen.line(
            [frame.x(float(note)) for note in fine],
            [frame.y(float(a)) if frame.shows(float(a)) else math.nan for a in line],
            style.colour,
            width,
            dashes=style.dashes,
            z=z,
        )
    x = [frame.x(note) for note in notes]
    y = [frame.y(amount) if frame.shows(amount) else math.nan for amount in amounts]
    if mark > 0.0:
        pen.marks(
            x,
            y,
            style.marker,
            mark,
            style.colour,
            edge=pen.palette.paper,
            edge_width=0.8,
            z=z + 0.5,
        )


def name_ends(pen: Pen, frame: Frame, names: Sequence[EndName], size: float = 11.5) -> None:
    """Write names to the right of the frame, each as near to its curve's end as there is room."""
    ordered = sorted(names, key=lambda name: name.y)
    places = [min(max(name.y, frame.head + 4), frame.foot) for name in ordered]
    for _ in range(400):
        moved = False
        for k in range(len(places) - 1):
            lack = _NAMES_APART - (places[k + 1] - places[k])
            if lack > 1e-6:
                places[k] -= lack / 2.0
                places[k + 1] += lack / 2.0
                moved = True
        if places and places[0] < frame.head:
            places[0] = frame.head
        if not moved:
            break
    for name, y in zip(ordered, places, strict=True):
        start = min(max(name.y, frame.head), frame.foot)
        if abs(start - y) > 3.0:
            pen.line(
                [frame.right + 13, frame.right + 22],
                [start, y],
                pen.palette.soft,
                0.7,
                z=2.5,
            )
        pen.text(frame.right + 26, y + 4, name.words, size, name.colour, bold=name.bold)
