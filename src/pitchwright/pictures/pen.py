"""Marks on a blank canvas, in pixels with y downwards, and the SVG that is made of them.

A colour is named by what it stands for; the file's style says what that is on light paper, on dark,
on a printer, and where the reader's system has colours of its own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final, Literal
from xml.sax.saxutils import escape

from pitchwright.pictures.faces import fitted
from pitchwright.pictures.palette import ROLES, Palette, Theme, style
from pitchwright.pictures.placing import Box

__all__ = ["Dashes", "Mark", "Pen", "blank_canvas", "finished_svg", "plain_line"]

Mark = Literal["o", "s", "D", "^", "v", "x"]
"""Round, square, diamond, triangle up and down, cross."""

Dashes = tuple[float, ...]
"""Drawn and left out, in widths of the line; empty for a whole line."""

SANS: Final = (
    "system-ui, 'Segoe UI', 'Helvetica Neue', Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"
)
SERIF: Final = (
    "'Iowan Old Style', 'Palatino Linotype', Palatino, 'Book Antiqua', Georgia, 'DejaVu Serif', "
    "serif"
)
_EDGE: Final = 4.0
_ANCHORS: Final = {"left": "", "center": ' text-anchor="middle"', "right": ' text-anchor="end"'}
# Of a mark of size 1.
_CORNERS: Final[dict[str, tuple[tuple[float, float], ...]]] = {
    "s": ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)),
    "D": (
        (0.0, -math.sqrt(0.5)),
        (math.sqrt(0.5), 0.0),
        (0.0, math.sqrt(0.5)),
        (-math.sqrt(0.5), 0.0),
    ),
    "^": ((0.0, -0.5), (0.5, 0.5), (-0.5, 0.5)),
    "v": ((0.0, 0.5), (0.5, -0.5), (-0.5, -0.5)),
}


@dataclass(slots=True)
class Pen:
    """Marks on the canvas, in pixels; what has the greater z lies above.

    Attributes
    ----------
    width, height
        Of the picture; the height may be set at the end.
    face, breadth
        Face of the words, and how wide it is against the widest that widths are measured with.
    """

    width: float
    height: float
    palette: Palette = ROLES
    face: str = SANS
    breadth: float = 1.0
    drawn: list[tuple[float, str]] = field(default_factory=list)

    def line(
        self,
        x: Sequence[float],
        y: Sequence[float],
        colour: str,
        width: float,
        *,
        dashes: Dashes = (),
        cap: str = "round",
        z: float = 2.0,
    ) -> None:
        """Draw a line through points, broken where one is not a number."""
        path, down = [], False
        for one, other in zip(x, y, strict=True):
            here = math.isfinite(one) and math.isfinite(other)
            if here:
                path.append(f"{'L' if down else 'M'}{_at(one)} {_at(other)}")
            down = here
        if not path:
            return
        dash = " ".join(f"{_at(part * width)}" for part in dashes)
        ends = cap if not dashes or cap != "round" or dashes[0] < 0.5 else "butt"
        self._add(
            z,
            f'<path class="line-{colour}" d="{"".join(path)}" stroke-width="{width:g}"'
            f"{f' stroke-linecap={chr(34)}{ends}{chr(34)}' if ends != 'butt' else ''}"
            f"{f' stroke-dasharray={chr(34)}{dash}{chr(34)}' if dash else ''}/>",
        )

    def marks(
        self,
        x: Sequence[float],
        y: Sequence[float],
        mark: Mark,
        size: float,
        fill: str,
        *,
        edge: str = "",
        edge_width: float = 1.0,
        z: float = 2.0,
    ) -> None:
        """Set a mark at every point; a cross is all edge, in the colour of ``fill``."""
        for one, other in zip(x, y, strict=True):
            if math.isfinite(one) and math.isfinite(other):
                self._add(z, _marked(one, other, mark, size, fill, edge, edge_width))

    def box(
        self, box: Box, fill: str, edge: str | None = None, width: float = 0.0, z: float = 1.0
    ) -> None:
        """Fill a rectangle."""
        classes = f"fill-{fill}" + (f" line-{edge}" if edge else "")
        stroke = f' stroke-width="{width:g}"' if edge else ""
        self._add(
            z,
            f'<rect class="{classes}" x="{_at(box.left)}" y="{_at(box.top)}" '
            f'width="{_at(max(box.right - box.left, 0.0))}" '
            f'height="{_at(max(box.bottom - box.top, 0.0))}"{stroke}/>',
        )

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: float,
        colour: str,
        *,
        serif: bool = False,
        bold: bool = False,
        across: str = "left",
        z: float = 8.0,
    ) -> None:
        """Write words as they are, no mark-up in them obeyed; none leaves the picture."""
        beside = {"left": self.width - x, "right": x, "center": 2.0 * min(x, self.width - x)}
        room = (beside[across] - _EDGE) / self.breadth
        words = fitted(words, size, room, bold=bold, serif=serif)
        if not words.strip():
            return
        face = f' font-family="{SERIF}"' if serif else ""
        weight = ' font-weight="bold"' if bold else ""
        self._add(
            z,
            f'<text class="fill-{colour}" x="{_at(x)}" y="{_at(y)}" font-size="{size:g}"'
            f"{face}{weight}{_ANCHORS[across]}>{escape(words)}</text>",
        )

    def _add(self, z: float, element: str) -> None:
        self.drawn.append((z, element))


def _marked(
    x: float, y: float, mark: Mark, size: float, fill: str, edge: str, edge_width: float
) -> str:
    half = size / 2.0
    if mark == "x":
        across = f"M{_at(x - half)} {_at(y - half)}l{_at(size)} {_at(size)}"
        back = f"M{_at(x - half)} {_at(y + half)}l{_at(size)} {_at(-size)}"
        return f'<path class="line-{fill}" d="{across}{back}" stroke-width="{edge_width:g}"/>'
    classes = f"fill-{fill}" + (f" line-{edge}" if edge else "")
    stroke = f' stroke-width="{edge_width:g}"' if edge else ""
    if mark == "o":
        return f'<circle class="{classes}" cx="{_at(x)}" cy="{_at(y)}" r="{_at(half)}"{stroke}/>'
    corners = "L".join(f"{_at(x + dx * size)} {_at(y + dy * size)}" for dx, dy in _CORNERS[mark])
    return f'<path class="{classes}" d="M{corners}Z"{stroke}/>'


def _at(pixels: float) -> str:
    """Hundredths of a pixel are as fine as an eye needs."""
    return f"{round(pixels, 2) + 0.0:g}"


def blank_canvas(width: float, height: float) -> Pen:
    """Canvas of ``width`` × ``height`` pixels, its paper laid."""
    pen = Pen(width, height)
    pen.box(Box(0.0, 0.0, width, height), pen.palette.paper, z=-1.0)
    return pen


def finished_svg(pen: Pen, said: str, description: str, theme: Theme) -> str:
    """SVG of a canvas, with words for those who do not see it and, for the system, both themes.

    The same marks give the same bytes: no date, no chance in the names of elements.
    """
    marks = "\n".join(element for _, element in sorted(pen.drawn, key=lambda one: one[0]))
    wide, high = f"{pen.width:g}", f"{pen.height:g}"
    return (
        '<?xml version="1.0" encoding="utf-8" standalone="no"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}" height="{high}" '
        f'viewBox="0 0 {wide} {high}" font-family="{pen.face}" stroke-linejoin="round" role="img" '
        'aria-labelledby="said" aria-describedby="more">\n'
        f'<title id="said">{escape(said)}</title><desc id="more">{escape(description)}</desc>'
        f"<style>{style(theme)}</style>\n{marks}\n</svg>\n"
    )


def plain_line(words: str) -> str:
    """One line, without the characters that XML cannot hold."""
    return " ".join("".join(c if c.isprintable() else " " for c in words).split())
