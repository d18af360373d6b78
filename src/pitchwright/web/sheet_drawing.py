"""The sheet drawn for a screen: dots with their bars over a keyboard strip, as SVG.

The same marks as on paper, in the size of the screen. Colours are style-sheet names, so that light
and dark need no second picture; as found is a cross and faint, now a dot and strong, foreseen a
dashed line; what leaves the picture gets an arrow and its figure.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

from pitchwright.pictures.faces import text_width
from pitchwright.pictures.keyboard import keys
from pitchwright.pictures.scale import strip, ticks
from pitchwright.units import note_name
from pitchwright.web import texts
from pitchwright.web.sheet_data import Dot, SheetData

__all__ = ["MIDDLE", "NARROW", "STRIP", "WIDE", "Size", "draw_sheet", "draw_strip", "nearest"]

_FAR_IN_BANDS = 14.0
"""As found may take at most so many tolerances of the picture either way; arrows tell the rest."""


@dataclass(frozen=True, slots=True)
class Size:
    """Size of a drawing and of what is written in it, in pixels."""

    width: float
    height: float
    text: float

    @property
    def left(self) -> float:
        """Left edge of the curve's field."""
        return 3.4 * self.text

    @property
    def bottom(self) -> float:
        """Lower edge of the curve's field; keyboard and reach lie below."""
        return self.height - 86.0

    @property
    def top(self) -> float:
        """Upper edge of the curve's field."""
        return 12.0 + self.text

    def x_of(self, note: float, low: float, high: float) -> float:
        """Where a note stands."""
        return self.left + (note - low) / (high - low) * (self.width - self.left - 14.0)


NARROW = Size(350.0, 380.0, 14.0)
MIDDLE = Size(660.0, 440.0, 15.0)
WIDE = Size(900.0, 440.0, 15.0)
STRIP = (520.0, 84.0)
"""Width and height of a strip."""


def nearest(data: SheetData, share: float, size: Size) -> int:
    """Which note is nearest to a touch, as an index.

    Parameters
    ----------
    data
        What is drawn.
    share
        Where it was touched, 0 at the left edge of the picture and 1 at the right.
    size
        The size it was drawn in.
    """
    low, high = _keys(data)
    x = share * size.width
    return min(range(len(data.now)), key=lambda i: abs(size.x_of(data.now[i].note, low, high) - x))


def draw_sheet(data: SheetData, size: Size, chosen: int | None = None) -> str:
    """Draw a sheet as one SVG element; words for those who do not see it stand beside it."""
    return "".join(_Drawing(data, size, chosen).parts())


def draw_strip(data: SheetData, low: float, high: float, half_cents: float) -> str:
    """Draw one oscillator's curve as a low strip, to be seen one under the other.

    Parameters
    ----------
    data
        Its curve.
    low, high
        First and last note of all the strips.
    half_cents
        Half height of all the strips.
    """
    width, height = STRIP

    def x(note: float) -> float:
        return 8.0 + (note - low) / max(high - low, 1.0) * (width - 16.0)

    def y(cents: float) -> float:
        return height / 2.0 - cents / half_cents * (height / 2.0 - 8.0)

    band = data.tolerance_cents
    parts = [
        f'<svg class="sheet" viewBox="0 0 {width:g} {height:g}" aria-hidden="true">',
        _box("sheet-band", 0.0, y(band), width, y(-band) - y(band)),
        _stroke("sheet-zero", 0.0, y(0.0), width, y(0.0)),
    ]
    first, last = math.ceil(low / 12.0), math.floor(high / 12.0)
    octaves = [x(12.0 * octave) for octave in range(first, last + 1)]
    parts.extend(_stroke("sheet-rule", at, 0.0, at, height) for at in octaves)
    run = "L".join(f"{x(dot.note):.1f} {y(dot.cents):.1f}" for dot in data.now if not dot.doubt)
    parts.append(f'<path class="sheet-line" d="M{run}"/>' if run else "")
    for dot in data.now:
        at_x, at_y = x(dot.note), y(dot.cents)
        if dot.doubt:
            tip = f"M{at_x:.1f} {at_y - 5:.1f}l5 5l-5 5l-5 -5z"
            parts.append(f'<path class="sheet-doubt" d="{tip}"/>')
        else:
            parts.append(f'<circle class="sheet-dot" cx="{at_x:.1f}" cy="{at_y:.1f}" r="4"/>')
    return "".join([*parts, "</svg>"])


def _keys(data: SheetData) -> tuple[float, float]:
    notes = [dot.note for dot in (*data.now, *data.found)]
    low, high = strip(notes)
    return low - 1.0, high + 1.0


class _Drawing:
    def __init__(self, data: SheetData, size: Size, chosen: int | None) -> None:
        self.data, self.size, self.chosen = data, size, chosen
        self.low, self.high = _keys(data)
        self.lowest, self.highest = self._cents()

    # --- where things stand
    def x(self, note: float) -> float:
        return self.size.x_of(note, self.low, self.high)

    def y(self, cents: float) -> float:
        held = min(max(cents, self.lowest), self.highest)
        share = (held - self.lowest) / (self.highest - self.lowest)
        return self.size.bottom - share * (self.size.bottom - self.size.top)

    def inside(self, cents: float) -> bool:
        return self.lowest <= cents <= self.highest

    def _cents(self) -> tuple[float, float]:
        data = self.data
        sure = [dot for dot in data.now if not dot.doubt] or list(data.now)
        top = max([1.6 * data.tolerance_cents, *(_reach_of(dot, 1.0) for dot in sure)])
        bottom = min([-1.6 * data.tolerance_cents, *(-_reach_of(dot, -1.0) for dot in sure)])
        if data.found:
            far = max(_FAR_IN_BANDS * data.tolerance_cents, 1.2 * top, -1.2 * bottom)
            top = max(top, min(far, max(dot.cents for dot in data.found)))
            bottom = min(bottom, max(-far, min(dot.cents for dot in data.found)))
        room = 0.08 * (top - bottom)
        return bottom - room, top + room

    # --- what is drawn
    def parts(self) -> Iterable[str]:
        size = self.size
        yield (
            f'<svg class="sheet" viewBox="0 0 {size.width:g} {size.height:g}" aria-hidden="true"'
            f' focusable="false" style="font-size:{size.text:g}px">'
        )
        yield from self._ground()
        yield from self._chosen_note()
        data = self.data
        if data.found:
            yield self._line("sheet-line-found", data.model_found)
            yield from (self._dot(dot, found=True) for dot in data.found)
        yield self._line("sheet-line-foreseen", data.foreseen)
        yield self._line("sheet-line", data.model)
        yield from (self._dot(dot, found=False) for dot in data.now)
        yield from self._beyond(data.found, "sheet-beyond-found")
        yield from self._beyond(data.now, "sheet-beyond")
        yield from self._keyboard()
        yield from self._reach()
        yield "</svg>"

    def _ground(self) -> Iterable[str]:
        size, band = self.size, self.data.tolerance_cents
        right = size.width
        above, below = self.y(band), self.y(-band)
        yield _box("sheet-band", size.left, above, right - size.left, below - above)
        yield _text("sheet-figure", 0.0, size.text, texts.say("sheet.cents"), "start")
        amounts, decimals = ticks(self.lowest, self.highest, 6 if size.height > 400.0 else 5)
        for cents in amounts:
            y = self.y(cents)
            yield _stroke("sheet-zero" if cents == 0.0 else "sheet-rule", size.left, y, right, y)
            figure = texts.cents(cents, decimals)
            yield _text("sheet-figure", size.left - 8.0, y + 0.35 * size.text, figure, "end")

    def _chosen_note(self) -> Iterable[str]:
        if self.chosen is not None:
            x = self.x(self.data.now[self.chosen].note)
            yield _box("sheet-chosen", x - 11.0, self.size.top, 22.0, self.size.bottom + 32.0)

    def _line(self, name: str, points: Sequence[tuple[float, float]]) -> str:
        runs, pen = [], "M"
        for note, cents in points:
            if not self.inside(cents):
                pen = "M"
                continue
            runs.append(f"{pen}{self.x(note):.1f} {self.y(cents):.1f}")
            pen = "L"
        return f'<path class="{name}" d="{"".join(runs)}"/>' if len(runs) > 1 else ""

    def _dot(self, dot: Dot, *, found: bool) -> str:
        if not self.inside(dot.cents):
            return ""
        x, y = self.x(dot.note), self.y(dot.cents)
        if found:
            return f'<path class="sheet-cross" d="M{x - 4:.1f} {y - 4:.1f}l8 8m0 -8l-8 8"/>'
        high, low = self.y(dot.cents + dot.u_cents), self.y(dot.cents - dot.u_cents)
        bar = f"M{x:.1f} {high:.1f}V{low:.1f}"
        if low - high > 16.0:  # caps only where there is a bar to see
            bar += f"M{x - 5:.1f} {high:.1f}h10M{x - 5:.1f} {low:.1f}h10"
        if dot.doubt:
            mark = f'<path class="sheet-doubt" d="M{x:.1f} {y - 7:.1f}l7 7l-7 7l-7 -7z"/>' + _text(
                "sheet-doubt-word", x, y - 14.0, "?", "middle"
            )
            return f'<path class="sheet-bar sheet-bar-doubt" d="{bar}"/>{mark}'
        many = len(self.data.now) > 40
        return (
            f'<path class="sheet-bar" d="{bar}"/>'
            f'<circle class="sheet-dot" cx="{x:.1f}" cy="{y:.1f}" r="{3.2 if many else 5.2}"/>'
        )

    def _beyond(self, dots: Sequence[Dot], name: str) -> Iterable[str]:
        """An arrow for what leaves the picture, with its figure where there is room for one."""
        last = {True: -1e9, False: -1e9}
        for dot in dots:
            if self.inside(dot.cents):
                continue
            above = dot.cents > 0.0
            x, y = self.x(dot.note), self.size.top + 1.0 if above else self.size.bottom - 1.0
            tip = f"M{x:.1f} {y:.1f}l6 {9 if above else -9}h-12z"
            yield f'<path class="{name}" d="{tip}"/>'
            figure = texts.cents(dot.cents, 0) + (" ?" if dot.doubt else "")
            wide = text_width(figure, self.size.text)
            if x - last[above] < wide + 6.0:
                continue
            last[above] = x
            at = min(max(x, self.size.left + wide / 2.0), self.size.width - wide / 2.0 - 2.0)
            below = y + 12.0 + self.size.text if above else y - 14.0
            yield _text("sheet-figure", at, below, figure, "middle")

    def _keyboard(self) -> Iterable[str]:
        size = self.size
        top, tall = size.bottom + 6.0, 26.0
        low, high = int(self.low) + 1, int(self.high) - 1
        for key in keys(low, high):
            left, right = self.x(key.left), self.x(key.right)
            name, down = ("sheet-black", 0.6 * tall) if key.black else ("sheet-white", tall)
            yield _box(name, left, top, right - left, down)
        for note in range(low, high + 1):
            if note % 12 == 0:
                yield _text(
                    "sheet-figure",
                    self.x(note),
                    top + tall + 1.1 * size.text,
                    note_name(note),
                    "middle",
                )

    def _reach(self) -> Iterable[str]:
        """The tightest reach as a bar under the keys; its words stand beside the picture."""
        if not self.data.reaches:
            return
        one, y = self.data.reaches[0], self.size.height - 12.0
        left, right = self.x(self.low), self.x(self.high)
        yield _stroke("sheet-rule", left, y, right, y)
        if one.low is not None and one.high is not None:
            first, last = self.x(one.low) - 3.0, self.x(one.high) + 3.0
            yield _box("sheet-reach", first, y - 2.5, last - first, 5.0)
            yield _box("sheet-reach", first, y - 7.0, 2.5, 14.0)
            yield _box("sheet-reach", last - 2.5, y - 7.0, 2.5, 14.0)


def _reach_of(dot: Dot, way: float) -> float:
    # One very unsure note must not flatten the others.
    return way * dot.cents + min(dot.u_cents, abs(dot.cents) + 1.0)


def _box(name: str, x: float, y: float, wide: float, tall: float) -> str:
    return (
        f'<rect class="{name}" x="{x:.1f}" y="{y:.1f}" width="{max(wide, 0.0):.1f}"'
        f' height="{max(tall, 0.0):.1f}"/>'
    )


def _stroke(name: str, x1: float, y1: float, x2: float, y2: float) -> str:
    return f'<path class="{name}" d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}"/>'


def _text(name: str, x: float, y: float, words: str, anchor: str) -> str:
    return (
        f'<text class="{name}" x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">'
        f"{escape(words)}</text>"
    )
