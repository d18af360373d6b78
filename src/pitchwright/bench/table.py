"""A table of voltages (or notes) and frequencies measured elsewhere: a counter and a voltmeter."""

from __future__ import annotations

import itertools
import math
import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from pitchwright.bench.cells import NUMBER, cells_of, lines_of, number_of, separator_of
from pitchwright.errors import InputError
from pitchwright.tracking.point import Point
from pitchwright.units import (
    CENTS_PER_OCTAVE,
    NOTE_AT_0_V,
    cents_between,
    cv_of_note,
    note_of_cv,
    parse_note,
)

__all__ = ["Table", "read_table"]

_COLUMNS: Final[tuple[str, ...]] = ("cv_v", "note", "f_hz", "u_cents")
_SURVEYED: Final = frozenset({"oscillator", "midi_note", "cents", "U_cents", "readings", "doubt"})
"""What ``survey --csv`` writes besides."""
_RANGES: Final = {"cv_v": (-20.0, 20.0), "f_hz": (1.0, 100_000.0), "u_cents": (1e-6, 1200.0)}
_UNITS: Final = {"cv_v": "V", "f_hz": "Hz", "u_cents": "cents"}
# A repeat of a voltage may drift by this much; more is a slip of the pen.
_REPEATS_CENTS: Final = 50.0
_LEAST_U_CENTS: Final = 0.001


@dataclass(frozen=True, slots=True)
class Table:
    """What a table holds.

    Attributes
    ----------
    points
        One for each row, by rising voltage; a table knows no times, so all are at 0.
    remarks
        What a person should know about how it was read, each a sentence.
    """

    points: tuple[Point, ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Row:
    """One line: what it holds, and how many decimals its frequency was written with."""

    line: int
    point: Point
    decimals: int


def read_table(
    path: str | os.PathLike[str], *, note_at_0_v: float = NOTE_AT_0_V, oscillator: str = ""
) -> Table:
    """Read a table of comma, semicolon or tab separated values.

    The first line names the columns: ``f_hz``, and ``cv_v`` or ``note`` (a name or a number) or
    both, and ``u_cents`` where it is known. Lines that begin with ``#`` are comments. Decimal
    commas are understood where commas do not separate. Where the uncertainty is not given it is
    that of the last digit written (uniform, JCGM 100:2008, 4.3.7), which is the least it can be.

    What ``survey --csv`` wrote is such a table too; where its column ``oscillator`` names several,
    ``oscillator`` says whose rows are read.

    Rows may come in any order. The same voltage may come again, if the frequencies agree within
    50 cents: readings are often repeated.

    Parameters
    ----------
    path
        The file, UTF-8.
    note_at_0_v
        The note that 0 V plays, as a note number.
    oscillator
        Whose rows, in a table of several.

    Returns
    -------
    Table
        The points and what is to be said about them.

    Raises
    ------
    InputError
        Where the file cannot be read or a line does not hold what it should; line and column are
        named.
    """
    where = os.fspath(path)
    lines = lines_of(path, where)
    if not lines:
        raise InputError("The table is empty", where, "Name the columns cv_v and f_hz")
    line, heading = lines[0]
    separator = separator_of(heading)
    headings = cells_of(heading, separator, where, line)
    columns, ignored = _columns(headings, where, line)
    split = [(number, cells_of(text, separator, where, number)) for number, text in lines[1:]]
    split, ignored = _rows_of(split, headings, oscillator, ignored, where)
    rows = [
        _row(cells, columns, len(headings), separator, note_at_0_v, where, number)
        for number, cells in split
    ]
    if not rows:
        raise InputError("The table has no rows", where, "Give a voltage and a frequency a line")
    remarks = []
    if ignored:
        remarks.append(f"Columns not used: {', '.join(ignored)}.")
    if any(math.isnan(row.point.u_cents) for row in rows):
        remarks.append(
            "The table does not give every uncertainty: that of the last digit written is taken "
            "there, which is the least it can be."
        )
    ordered = sorted(rows, key=lambda row: row.point.cv_v)
    # A reference note that comes again, as it should, is no disorder.
    anew = list(dict.fromkeys(row.point.cv_v for row in rows))
    if anew != sorted(anew):
        remarks.append("The voltages do not rise from line to line; the rows were put in order.")
    repeated = _check_order(ordered, where)
    if repeated:
        remarks.append(
            f"{repeated} row{'s repeat' if repeated > 1 else ' repeats'} a voltage and "
            f"{'are' if repeated > 1 else 'is'} taken as a second reading of it."
        )
    return Table(_with_uncertainty(ordered), tuple(remarks))


def _columns(cells: Sequence[str], where: str, line: int) -> tuple[dict[str, int], tuple[str, ...]]:
    """Where each known column stands, and the names of those not known."""
    at = f"{where}, line {line}"
    columns: dict[str, int] = {}
    for name in _COLUMNS:
        # What is written exactly so comes first: a survey has both u_cents and U_cents.
        named = [place for place, cell in enumerate(cells) if cell == name] or [
            place for place, cell in enumerate(cells) if cell.lower() == name
        ]
        if len(named) > 1:
            raise InputError(f"The column {name} is there twice", at, "Remove one")
        if named:
            columns[name] = named[0]
    if "f_hz" not in columns or not columns.keys() & {"cv_v", "note"}:
        raise InputError(
            "The first line does not name the columns needed",
            at,
            "Begin with cv_v,f_hz or note,f_hz",
        )
    used = columns.values()
    return columns, tuple(
        cell[:40] for place, cell in enumerate(cells) if cell and place not in used
    )


def _rows_of(
    rows: list[tuple[int, list[str]]],
    headings: Sequence[str],
    oscillator: str,
    ignored: tuple[str, ...],
    where: str,
) -> tuple[list[tuple[int, list[str]]], tuple[str, ...]]:
    """The rows of one oscillator, in a table that says whose each is; else all of them."""
    if "oscillator" not in headings:
        return rows, ignored
    place = headings.index("oscillator")
    named = [cells[place] if place < len(cells) else "" for _, cells in rows]
    names = list(dict.fromkeys(named))
    if len(names) > 1:
        wanted = [name for name in names if name.casefold() == oscillator.casefold()]
        if not wanted:
            raise InputError(
                f"There is no oscillator called {oscillator} in the table"
                if oscillator
                else "The table holds several oscillators",
                where,
                f"Name one of {', '.join(names)[:80]}",
            )
        rows = [row for row, name in zip(rows, named, strict=True) if name == wanted[0]]
    # The other columns of a survey follow from these: nothing is lost.
    return rows, tuple(name for name in ignored if name not in _SURVEYED)


def _row(
    cells: Sequence[str],
    columns: dict[str, int],
    width: int,
    separator: str,
    note_at_0_v: float,
    where: str,
    line: int,
) -> _Row:
    def text(name: str) -> tuple[str, str]:
        place = columns[name]
        at = f"{where}, line {line}, column {name}"
        written = cells[place] if place < len(cells) else ""
        if not written:
            raise InputError("There is a gap: the cell is empty", at, "Fill it or drop the line")
        return written, at

    def number(name: str) -> tuple[float, str]:
        written, at = text(name)
        return _number(written, name, separator, at), written

    if any(cells[width:]):
        raise InputError(
            f"There are {len(cells)} cells for {width} columns",
            f"{where}, line {line}",
            "A decimal comma needs semicolons between the columns",
        )
    f_hz, written_hz = number("f_hz")
    u_cents = math.nan
    if "u_cents" in columns and columns["u_cents"] < len(cells) and cells[columns["u_cents"]]:
        u_cents = number("u_cents")[0]
    if "note" in columns:
        written, at = text("note")
        try:
            note = float(parse_note(written))
        except InputError as fault:
            raise InputError(fault.what, at, fault.do) from fault
        cv_v = number("cv_v")[0] if "cv_v" in columns else cv_of_note(note, note_at_0_v)
    else:
        cv_v = number("cv_v")[0]
        note = note_of_cv(cv_v, note_at_0_v)
    point = Point(note=note, cv_v=cv_v, f_hz=f_hz, u_cents=u_cents)
    return _Row(line, point, _decimals(written_hz))


def _number(written: str, name: str, separator: str, at: str) -> float:
    number = number_of(written, separator, at)
    if name == "f_hz" and number <= 0.0:
        raise InputError(f"A frequency of {written[:40]} Hz cannot be", at, "Check the figure")
    if name == "u_cents" and number <= 0.0:
        raise InputError(
            f"An uncertainty of {written[:40]} cents cannot be",
            at,
            "Leave the column out where it is not known",
        )
    low, high = _RANGES[name]
    if not low <= number <= high:
        raise InputError(
            f"{written[:40]} {_UNITS[name]} is outside {low:g} to {high:g}", at, "Check the figure"
        )
    return number


def _decimals(written: str) -> int:
    match = NUMBER.fullmatch(written.replace("−", "-"))
    assert match is not None
    return len(match[2] or match[3] or "") - int(match[4] or 0)


def _with_uncertainty(rows: Sequence[_Row]) -> tuple[Point, ...]:
    """The points; where no uncertainty is given, that of the last digit.

    A counter shows at least as many decimals of a lower frequency as of a higher one, and a
    spreadsheet drops zeros at the end: so the digit is the finest of any row as high or higher.
    """
    points = [row.point for row in rows]
    finest = -12
    for place in sorted(range(len(rows)), key=lambda place: -points[place].f_hz):
        point, finest = points[place], max(finest, rows[place].decimals)
        if math.isnan(point.u_cents):
            cents_per_hz = CENTS_PER_OCTAVE / math.log(2.0) / point.f_hz
            u_cents = 0.5 * 10.0**-finest * cents_per_hz / math.sqrt(3.0)
            u_cents = min(max(u_cents, _LEAST_U_CENTS), CENTS_PER_OCTAVE)
            points[place] = replace(point, u_cents=u_cents)
    return tuple(points)


def _check_order(rows: Sequence[_Row], where: str) -> int:
    """Refuse what contradicts itself; how many rows repeat a voltage."""
    repeated = 0
    for early, late in itertools.pairwise(rows):
        rise = cents_between(late.point.f_hz, early.point.f_hz)
        first, second = sorted((early.line, late.line))
        at = f"{where}, lines {first} and {second}"
        if late.point.cv_v == early.point.cv_v:
            repeated += 1
            if abs(rise) > _REPEATS_CENTS:
                raise InputError(
                    f"The same voltage ({late.point.cv_v:g} V) is there twice with frequencies "
                    f"{abs(rise):.0f} cents apart",
                    at,
                    "Remove the wrong one",
                )
        elif rise < -_REPEATS_CENTS:
            raise InputError(
                "The frequency falls while the voltage rises",
                at,
                "Check both lines and the columns' order",
            )
    return repeated
