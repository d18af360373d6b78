"""A small label to stick inside the case: who, when, fed by what, in tune over which notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from pitchwright.certificate.contents import Contents, note_results
from pitchwright.certificate.statements import reach_words
from pitchwright.certificate.typeset import Paper, plain_words, typeset
from pitchwright.errors import InputError
from pitchwright.pictures.figures import day

__all__ = ["LABEL_MM", "labels_pdf"]

LABEL_MM: Final = (62.0, 29.0)
"""Width and height of a label, unless asked for otherwise."""
_PAGE_MM: Final = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
_EDGE_MM: Final = 8.0


@dataclass(frozen=True, slots=True)
class _Size:
    width_mm: float
    height_mm: float

    def __post_init__(self) -> None:
        if not (40.0 <= self.width_mm <= 190.0 and 20.0 <= self.height_mm <= 120.0):
            raise InputError(
                f"A label of {self.width_mm:g} × {self.height_mm:g} mm cannot be read or printed",
                do="Choose 40 to 190 mm wide and 20 to 120 mm high, such as 62x29",
            )


def labels_pdf(
    contents: Sequence[Contents],
    *,
    sheet: Paper | None = None,
    size_mm: tuple[float, float] = LABEL_MM,
) -> bytes:
    """Typeset a label for each instrument, in the order given.

    Parameters
    ----------
    contents
        What their certificates say; at least one.
    sheet
        All together on sheets of this paper, with dotted lines to cut along; where None, each on a
        page of the label's size, for a label printer.
    size_mm
        Width and height of a label.

    Raises
    ------
    InputError
        Where there is none, or the size cannot be.
    """
    if not contents:
        raise InputError("There is no instrument to make a label for", do="Survey one first")
    size = _Size(*size_mm)
    names = ", ".join(plain_words(one.name, 40) for one in contents[:6])
    data: dict[str, Any] = {
        "title": plain_words(f"Labels: {names}{', …' if len(contents) > 6 else ''}"),
        "sheet": sheet,
        "size": [size.width_mm, size.height_mm],
        "grid": _grid(size, sheet) if sheet else [1, 1],
        "labels": [_words(one) for one in contents],
    }
    return typeset("label.typ", data, max(one.dated for one in contents))


def _grid(size: _Size, sheet: Paper) -> list[int]:
    """How many labels go across and down a sheet."""
    width, height = (edge - 2.0 * _EDGE_MM for edge in _PAGE_MM[sheet])
    return [max(1, int(width // size.width_mm)), max(1, int(height // size.height_mm))]


def _words(contents: Contents) -> dict[str, Any]:
    last = contents.last
    results = note_results(last.survey, contents.tolerance_cents)
    rows = [["fed by", plain_words(contents.fed_by, 60) or "not noted"]]
    within = f"±{contents.tolerance_cents:g} cent{'' if contents.tolerance_cents == 1.0 else 's'}"
    rows.append(["in tune", f"{reach_words(results)}, within {within}"])
    rows.append(["against", plain_words(last.survey.target.words, 60)])
    state = "as left" if contents.left is not None else "as found"
    foot = f"{state} · {contents.number}"
    return {
        "name": plain_words(contents.name, 60) or "unnamed",
        "day": _short_day(last.at.date()),
        "rows": rows,
        "foot": f"{foot} · invented data" if contents.invented else foot,
    }


def _short_day(on: date) -> str:
    number, month, year = day(on).split()
    return f"{number} {month[:3]} {year}"
