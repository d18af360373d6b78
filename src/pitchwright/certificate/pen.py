"""Marks on a blank canvas, in pixels with y downwards, and what makes the file of it."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final
from xml.sax.saxutils import escape

from pitchwright.certificate.palette import DARK, LIGHT, Palette, Theme, dark_style
from pitchwright.certificate.placing import Box

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["Pen", "blank_canvas", "finished_svg", "plain_line"]

_SERIF: Final = (
    "'Iowan Old Style', 'Palatino Linotype', Palatino, 'Book Antiqua', Georgia, 'DejaVu Serif', "
    "serif"
)
_SANS: Final = (
    "system-ui, 'Segoe UI', 'Helvetica Neue', Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"
)


@dataclass(frozen=True, slots=True)
class Pen:
    """Marks on the canvas, in pixels."""

    figure: Figure
    canvas: Axes
    palette: Palette

    def line(
        self, x: Sequence[float], y: Sequence[float], colour: str, width: float, **how: Any
    ) -> None:
        """Draw a line through points, or a mark where one is asked for."""
        how.setdefault("solid_capstyle", "round")
        self.canvas.plot(x, y, color=colour, linewidth=width, **how)

    def box(
        self, box: Box, fill: str, edge: str | None = None, width: float = 0.0, z: float = 1.0
    ) -> None:
        """Fill a rectangle."""
        from matplotlib.patches import Rectangle

        self.canvas.add_patch(
            Rectangle(
                (box.left, box.top),
                box.right - box.left,
                box.bottom - box.top,
                facecolor=fill,
                edgecolor=edge or "none",
                linewidth=width,
                zorder=z,
            )
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
        upright: str = "baseline",
        z: float = 8.0,
    ) -> None:
        """Write words as they are: no mark-up in them is obeyed."""
        self.canvas.text(
            x,
            y,
            words,
            fontsize=size,
            color=colour,
            family="DejaVu Serif" if serif else "DejaVu Sans",
            weight="bold" if bold else "normal",
            ha=across,
            va=upright,
            parse_math=False,
            zorder=z,
        )


def blank_canvas(width: float, height: float, theme: Theme) -> Pen:
    """Canvas of ``width`` × ``height`` pixels on paper of the theme's colour."""
    # Looked up late: it takes longer to load than all the rest of the program.
    from matplotlib.figure import Figure

    palette = DARK if theme == "dark" else LIGHT
    figure = Figure(figsize=(width / 72.0, height / 72.0), facecolor=palette.paper)
    canvas = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    canvas.set_xlim(0.0, width)
    canvas.set_ylim(height, 0.0)
    canvas.set_axis_off()
    return Pen(figure, canvas, palette)


def finished_svg(pen: Pen, said: str, description: str, theme: Theme) -> str:
    """SVG of a canvas, with words for those who do not see it and, for the system, both themes.

    The same marks give the same bytes: no date, no chance in the names of elements.
    """
    import matplotlib as mpl

    file = io.StringIO()
    with (
        mpl.rc_context({"svg.fonttype": "none", "svg.hashsalt": "sheet", "path.simplify": False}),
        warnings.catch_warnings(),
    ):
        # A name may be in a script that the face used for measuring does not hold.
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
        pen.figure.savefig(file, format="svg", metadata=nothing)
    svg = re.sub(r"'?DejaVu Serif'?", _SERIF, file.getvalue())
    svg = re.sub(r"(?<!')'?DejaVu Sans'?(?!,)", _SANS, svg)
    style = f"<style>{dark_style()}</style>" if theme == "system" else ""
    words = f'<title id="said">{escape(said)}</title><desc id="more">{escape(description)}</desc>'
    start = svg.index("<svg ")
    end = svg.index(">", start)
    opened = f'{svg[start:end]} role="img" aria-labelledby="said" aria-describedby="more">'
    declared = '<?xml version="1.0" encoding="utf-8" standalone="no"?>'
    return f"{declared}\n{opened}\n{words}{style}{svg[end + 1 :]}"


def plain_line(words: str) -> str:
    """One line, without the characters that XML cannot hold."""
    return " ".join("".join(c if c.isprintable() else " " for c in words).split())
