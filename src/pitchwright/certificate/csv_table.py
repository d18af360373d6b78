"""Results as comma-separated values, safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from pathlib import Path

from pitchwright.writing import write_whole

__all__ = ["csv_text", "write_csv"]

# A cell that begins with one of these is run as a formula by spreadsheets.
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\n")


def csv_text(
    headings: Sequence[str], rows: Sequence[Sequence[str | float | int | bool | None]]
) -> str:
    """The table as text: one heading line, one line a row, quoted as RFC 4180 says.

    Figures are written so that they read back to the same number; what is unknown (None, not a
    number, infinite) is an empty cell; text that a spreadsheet would run gets an apostrophe.
    """
    lines = io.StringIO()
    writer = csv.writer(lines, lineterminator="\n")
    writer.writerow(headings)
    writer.writerows([_cell(cell) for cell in row] for row in rows)
    return lines.getvalue()


def write_csv(
    path: Path,
    headings: Sequence[str],
    rows: Sequence[Sequence[str | float | int | bool | None]],
) -> None:
    """Write `csv_text` to ``path``, whole or not at all; errors as `pitchwright.writing`."""
    write_whole(path, csv_text(headings, rows))


def _cell(content: str | float | int | bool | None) -> str:
    if content is None:
        return ""
    if isinstance(content, bool):
        return "yes" if content else "no"
    if isinstance(content, str):
        # A bare carriage return would end the row for some readers.
        text = content.replace("\r\n", "\n").replace("\r", "\n")
        return f"'{text}" if text.startswith(_FORMULA_STARTS) else text
    if not math.isfinite(content):
        return ""
    return str(int(content)) if content == int(content) else repr(float(content))
