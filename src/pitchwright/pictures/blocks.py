"""A curve in a terminal: block characters, two heights a line, no colour needed."""

from __future__ import annotations

from typing import Final

from pitchwright.pictures.figures import signed
from pitchwright.pictures.keyboard import is_black
from pitchwright.pictures.scale import strip, ticks
from pitchwright.pictures.shown import CurveShown
from pitchwright.units import note_name

__all__ = ["blocks"]

_LINES: Final = 14
_MARGIN: Final = 8
_NARROWEST: Final = 36


def blocks(curve: CurveShown, width: int = 80) -> str:
    """Draw a curve over a keyboard in characters.

    A block is a note (“?” one in doubt, ▲ and ▼ what is beyond the picture), │ what covers 95 %,
    dots the tolerance, the line zero; below them the black keys and every C.

    Parameters
    ----------
    curve
        What is shown.
    width
        Columns there are.
    """
    low, high = strip(one.note for one in curve.notes)
    room = max(min(width, 100), _NARROWEST) - _MARGIN - 2
    sure = [one for one in curve.notes if not one.doubt] or list(curve.notes)
    top = max(1.5 * curve.tolerance_cents, *(one.cents for one in sure))
    bottom = min(-1.5 * curve.tolerance_cents, *(one.cents for one in sure))
    spare = 0.05 * (top - bottom)
    top, bottom = top + spare, bottom - spare

    def column(note: float) -> int:
        return round((note - low) / (high - low) * (room - 1))

    def half(cents: float) -> int:
        """Half lines from the top."""
        return min(max(int((top - cents) / (top - bottom) * 2 * _LINES), 0), 2 * _LINES - 1)

    cells = [[" "] * room for _ in range(_LINES)]
    for edge in (curve.tolerance_cents, -curve.tolerance_cents):
        cells[half(edge) // 2] = [" ", "·"] * (room // 2) + [" "] * (room % 2)
    cells[half(0.0) // 2] = ["─"] * room
    for one in curve.notes:
        first, last = (half(one.cents + way * one.expanded_cents) for way in (1.0, -1.0))
        for line in range(first // 2, last // 2 + 1) if last - first > 3 else ():
            cells[line][column(one.note)] = "│"
    for one in curve.notes:
        at = half(one.cents)
        mark = "▄" if at % 2 else "▀"
        if one.doubt:
            mark = "?"
        elif not bottom <= one.cents <= top:
            mark = "▲" if one.cents > top else "▼"
        cells[at // 2][column(one.note)] = mark
    labels = [""] * _LINES
    amounts, decimals = ticks(bottom, top, 4)
    for amount in amounts:
        labels[half(amount) // 2] = signed(amount, decimals)
    drawn = [f"{'cents':>{_MARGIN - 1}}"]
    drawn += [
        f"{label:>{_MARGIN - 1}} {''.join(line)}".rstrip()
        for label, line in zip(labels, cells, strict=True)
    ]
    strip_line, names = [" "] * room, [" "] * (room + 4)
    for note in range(low, high + 1):
        if is_black(note):
            strip_line[column(note)] = "█"
        if note % 12 == 0:
            written = note_name(note)
            names[column(note) : column(note) + len(written)] = written
    drawn += [f"{' ' * _MARGIN}{''.join(strip_line)}".rstrip()]
    drawn += [f"{' ' * _MARGIN}{''.join(names)}".rstrip()]
    return "\n".join(drawn)
