"""Target curves and source voltages that stand in a table.

A target is a table of cents by note, a plan that ``detune --csv`` wrote, or another oscillator's
curve: frequencies by note, or what ``survey --csv`` wrote.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from pitchwright.bench.cells import cells_of, lines_of, number_of, separator_of
from pitchwright.ensemble import Voltage
from pitchwright.errors import InputError
from pitchwright.tracking import Point, TargetCurve
from pitchwright.units import cv_of_note, note_name, parse_note

__all__ = ["read_target", "read_voltages"]

_FAR_CENTS: Final = 1300.0
_HIGHEST_HZ: Final = 100_000.0
_MOST_V: Final = 20.0
_USUAL_U_CENTS: Final = 0.1


@dataclass(frozen=True, slots=True)
class _Cells:
    """A table whose first line names its columns."""

    where: str
    separator: str
    titles: tuple[str, ...]
    lines: tuple[tuple[int, tuple[str, ...]], ...]

    def place(self, title: str) -> int | None:
        # What is written exactly so comes first: a survey has both u_cents and U_cents.
        wanted = title.casefold()
        named = [n for n, one in enumerate(self.titles) if one == title] or [
            n for n, one in enumerate(self.titles) if one.casefold() == wanted
        ]
        if len(named) > 1:
            raise InputError(
                f"The column {title[:40]} is there twice", f"{self.where}, line 1", "Remove one"
            )
        return named[0] if named else None

    def at(self, line: int, place: int) -> str:
        return f"{self.where}, line {line}, column {self.titles[place][:40]}"

    def number(self, line: int, cells: tuple[str, ...], place: int, far: float) -> float:
        at = self.at(line, place)
        if not cells[place]:
            raise InputError("The cell is empty", at, "Fill it or drop the line")
        number = number_of(cells[place], self.separator, at)
        if abs(number) > far:
            raise InputError(f"{cells[place][:40]} cannot be", at, "Check the figure")
        return number

    def note(self, line: int, cells: tuple[str, ...], place: int) -> int:
        try:
            return parse_note(cells[place])
        except InputError as fault:
            raise InputError(fault.what, self.at(line, place), fault.do) from fault


def read_target(
    path: str | os.PathLike[str], oscillator: str = "", follow: str = ""
) -> TargetCurve:
    """Read a target curve.

    Columns, by name: ``note`` and one of “<oscillator> cents” (a plan), ``f_hz`` (another's
    curve; with a column ``oscillator``, the one to follow) or ``cents`` (a table).

    Parameters
    ----------
    path
        The file.
    oscillator
        Whose target it is; chooses the column of a plan.
    follow
        Whose curve is followed, where the file holds several.

    Raises
    ------
    InputError
        Where the file cannot be read, or does not hold such a table.
    """
    table = _read(path)
    planned = table.place(f"{oscillator} cents") if oscillator else None
    if planned is not None and not follow:
        return _planned(table, planned, f"the plan for {oscillator}")
    f_hz, cents = table.place("f_hz"), table.place("cents")
    if f_hz is not None:
        return _followed(table, f_hz, follow, Path(path).stem)
    if cents is not None and not follow:
        return _planned(table, cents, f"the table {Path(path).name}")
    plans = [title for title in table.titles if title.casefold().endswith(" cents")]
    raise InputError(
        f"There is no target for {oscillator or 'anyone'} in this table",
        f"{table.where}, line 1",
        f"It has: {', '.join(plans)[:80]}" if plans else "Name its columns note and cents",
    )


def read_voltages(path: str | os.PathLike[str], source: str) -> tuple[Voltage, ...]:
    """Read the voltages of a source: columns ``note`` and ``cv_v``.

    Raises
    ------
    InputError
        Where the file cannot be read, or does not hold such a table.
    """
    table = _read(path)
    cv_v = table.place("cv_v")
    if cv_v is None:
        raise InputError(
            "There is no column of voltages",
            f"{table.where}, line 1",
            "Name the columns note and cv_v",
        )
    note = _note_column(table)
    found = []
    for line, cells in table.lines:
        if not cells[cv_v]:
            continue
        volts = table.number(line, cells, cv_v, _MOST_V)
        found.append(Voltage(source, float(table.note(line, cells, note)), volts))
    if len({one.note for one in found}) < 2:
        raise InputError(
            "Voltages of two notes are the least", table.where, "Measure C1 and C6, for example"
        )
    return tuple(found)


def _read(path: str | os.PathLike[str]) -> _Cells:
    where = os.fspath(path)
    lines = lines_of(path, where)
    if len(lines) < 2:
        raise InputError(
            "The table is empty", where, "Give a line of column names, then a line a note"
        )
    number, heading = lines[0]
    separator = separator_of(heading)
    titles = tuple(cells_of(heading, separator, where, number))
    rows = []
    for number, text in lines[1:]:
        cells = cells_of(text, separator, where, number)
        if len(cells) > len(titles) and any(cells[len(titles) :]):
            raise InputError(
                f"There are {len(cells)} cells for {len(titles)} columns",
                f"{where}, line {number}",
                "A decimal comma needs semicolons between the columns",
            )
        cells += [""] * (len(titles) - len(cells))
        rows.append((number, tuple(cells[: len(titles)])))
    return _Cells(where, separator, titles, tuple(rows))


def _note_column(table: _Cells) -> int:
    place = table.place("note")
    if place is None:
        raise InputError(
            "There is no column of notes", f"{table.where}, line 1", "Name one of them note"
        )
    return place


def _planned(table: _Cells, place: int, words: str) -> TargetCurve:
    note = _note_column(table)
    wanted: dict[float, float] = {}
    for line, cells in table.lines:
        if not cells[place]:
            continue
        number = table.note(line, cells, note)
        if number in wanted:
            raise InputError(
                f"{note_name(number)} is there twice", table.at(line, note), "Remove one line"
            )
        wanted[float(number)] = table.number(line, cells, place, _FAR_CENTS)
    return TargetCurve.table(wanted, words)


def _followed(table: _Cells, f_hz: int, follow: str, stem: str) -> TargetCurve:
    note, whose, u = _note_column(table), table.place("oscillator"), table.place("u_cents")
    names = [] if whose is None else list(dict.fromkeys(cells[whose] for _, cells in table.lines))
    if follow and names and follow.casefold() not in [name.casefold() for name in names]:
        raise InputError(
            f"The table has no curve of {follow}", table.where, f"It has: {', '.join(names)[:80]}"
        )
    if len(names) > 1 and not follow:
        raise InputError(
            "The table holds several curves",
            table.where,
            f"Say which to follow: {', '.join(names)[:80]}",
        )
    points = []
    for line, cells in table.lines:
        if whose is not None and follow and cells[whose].casefold() != follow.casefold():
            continue
        heard = table.number(line, cells, f_hz, _HIGHEST_HZ)
        if heard < 1.0:
            raise InputError(
                f"A frequency of {heard:g} Hz cannot be", table.at(line, f_hz), "Check the figure"
            )
        known = u is not None and bool(cells[u])
        u_cents = table.number(line, cells, u, 1200.0) if known and u is not None else 0.0
        number = float(table.note(line, cells, note))
        points.append(Point(number, cv_of_note(number), heard, u_cents or _USUAL_U_CENTS))
    name = follow or (names[0] if names else stem)
    return TargetCurve.following(_one_a_note(points), name, same_take=False)


def _one_a_note(points: list[Point]) -> list[Point]:
    """The last reading of each note: a curve has one value a note."""
    return list({point.note: point for point in points}.values())
