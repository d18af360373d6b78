"""A history from a table: a CSV file with a column of times and one per oscillator.

Columns, in any order, named in the first line:

- ``t_s``, seconds; or ``time``, as ``2026-11-25T19:30:05`` or ``19:30:05``
- ``Heron f_hz`` or ``Heron cents``, one per oscillator (``heron_f_hz`` and a bare ``f_hz`` do)
- ``temperature_c``, degrees Celsius, if there was a thermometer
- ``note``, if notes alternate: ``C2``, or a MIDI note number

An empty cell is a reading that was not taken. Semicolons between cells and a decimal comma are
understood. Lines that start with ``#`` are comments.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.bench.opening import opened
from pitchwright.errors import InputError
from pitchwright.stability.history import History, Trace
from pitchwright.stability.wording import in_words
from pitchwright.units import cents_between, note_to_hz, parse_note

__all__ = ["parse_history", "read_history"]

Array = NDArray[np.float64]

_MOST_BYTES: Final = 500_000_000
_SHOWN: Final = 30
_GAP: Final = 5.0
"""A pause of this many reading intervals is a gap worth a remark."""
_DAY_S: Final = 86400.0
_CLOCK: Final = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}(?:[.,]\d+)?))?")
_OSCILLATOR: Final = re.compile(r"(?:(.*?)[\s_,/-]+)?(f_hz|cents)", re.IGNORECASE)
_MISSING: Final = frozenset({"", "nan", "na", "n/a", "-", "−"})
_LOWEST_HZ, _HIGHEST_HZ = 0.01, 1e6
_MOST_CENTS: Final = 1e5
_COLDEST_C, _HOTTEST_C = -90.0, 150.0
_MOST_S: Final = 1e9


def read_history(path: Path, a4_hz: float = 440.0) -> History:
    """Read a history from a CSV file.

    Parameters
    ----------
    path
        The file, UTF-8.
    a4_hz
        Pitch of A4, for the departure from alternating notes.

    Raises
    ------
    InputError
        Where the file cannot be read or a line of it cannot be used; the sentence names the line
        and the column.
    """
    where = str(path)
    with opened(path) as file:
        raw = file.read(_MOST_BYTES + 1)
    if len(raw) > _MOST_BYTES:
        raise InputError("The file is too large for a history", where, "Split it by day")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = raw.count(b"\n", 0, fault.start) + 1
        raise InputError(
            "This is not text in UTF-8", f"{where}, line {line}", "Save the table as CSV in UTF-8"
        ) from None
    return parse_history(text, where, a4_hz)


def parse_history(text: str, where: str, a4_hz: float = 440.0) -> History:
    """Make a history from the text of a CSV table; ``where`` names it in errors."""
    separator, lines, rows = _rows(text, where)
    header = [cell.strip() for cell in rows[0]]
    table = _Table(where, header, lines[1:], rows[1:], comma=separator != ",")
    clock, oscillators, temperature, note, unused = _roles(header, where)
    t_s = table.times(clock)
    temperature_c = None
    if temperature is not None:
        temperature_c = table.column(temperature, _number)
        table.inside(temperature, temperature_c, _COLDEST_C, _HOTTEST_C, "a room's temperature")
    notes = None if note is None else table.column(note, _note)
    if notes is not None:
        table.complete(note, notes)
    traces = [_trace(table, place, name, unit, notes, a4_hz) for place, name, unit in oscillators]
    remarks = _gaps(t_s)
    if unused:
        remarks.append(f"Not used: the columns {', '.join(unused)}.")
    return History(t_s - t_s[0], tuple(traces), temperature_c, notes, tuple(remarks))


def _rows(text: str, where: str) -> tuple[str, list[int], list[list[str]]]:
    """Split into cells; give the separator, the line number of each row, and the rows."""
    first = next((line for line in text.splitlines() if line.strip() and line[0] != "#"), "")
    separator = next((sign for sign in (";", "\t") if sign in first), ",")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    lines, rows = [], []
    try:
        for row in reader:
            if row and not row[0].startswith("#") and any(cell.strip() for cell in row):
                lines.append(reader.line_num)
                rows.append(row)
    except csv.Error as fault:
        raise InputError(
            f"The table cannot be split into cells ({fault})",
            f"{where}, line {reader.line_num}",
            "Check the quotation marks there",
        ) from None
    if not rows:
        raise InputError(
            "The table is empty", where, "Give a line of column names, then a line per reading"
        )
    if len(rows) < 3:
        raise InputError("A history needs at least two readings", where, "Record for some minutes")
    return separator, lines, rows


class _Table:
    """Cells by column, with the line each came from, so that a refusal can say where."""

    def __init__(
        self,
        where: str,
        header: Sequence[str],
        lines: list[int],
        rows: list[list[str]],
        *,
        comma: bool,
    ) -> None:
        for line, row in zip(lines, rows, strict=True):
            if len(row) != len(header):
                raise InputError(
                    f"Columns named: {len(header)}; cells in this line: {len(row)}",
                    f"{where}, line {line}",
                    "Give every line as many cells as there are columns; a cell may be empty",
                )
        self.where, self.header, self.lines, self.comma = where, header, lines, comma
        self.columns: list[Sequence[str]] = list(zip(*rows, strict=True))

    def at(self, place: int, row: int) -> str:
        return f"{self.where}, line {self.lines[row]}, column {self.header[place][:_SHOWN]}"

    def column(self, place: int, parse: Callable[[str], float]) -> Array:
        cells = self.columns[place]
        if parse is _number:
            if self.comma:
                cells = [cell.replace(",", ".") for cell in cells]
            try:
                # Whole columns of plain numbers, the usual case, are converted at once.
                plain = None if "_" in "".join(cells) else np.array(cells, dtype=np.float64)
            except ValueError:
                plain = None
            if plain is not None and np.isfinite(plain).all():
                return plain
        values = np.empty(len(cells))
        for row, cell in enumerate(cells):
            try:
                values[row] = parse(cell)
            except InputError as refused:
                raise InputError(refused.what, self.at(place, row), refused.do) from None
        return values

    def complete(self, place: int | None, values: Array) -> None:
        missing = np.flatnonzero(np.isnan(values))
        if place is not None and missing.size:
            raise InputError(
                "The cell is empty", self.at(place, int(missing[0])), "Fill it in or drop the line"
            )

    def inside(self, place: int, values: Array, low: float, high: float, what: str) -> None:
        outside = np.flatnonzero((values < low) | (values > high))
        if outside.size:
            row = int(outside[0])
            raise InputError(
                f"{values[row]:g} cannot be {what}", self.at(place, row), "Check the figure"
            )

    def times(self, place: int) -> Array:
        daytime = self.header[place].lower() == "time"
        t_s = self.column(place, _moment if daytime else _number)
        self.complete(place, t_s)
        self.inside(place, t_s, -_MOST_S * 100.0, _MOST_S * 100.0, "a time")
        if daytime and np.max(t_s) < 2.0 * _DAY_S:
            # Times of day without a date start over at midnight.
            t_s = t_s + _DAY_S * np.cumsum(np.diff(t_s, prepend=t_s[0]) < -_DAY_S / 2.0)
        back = np.flatnonzero(np.diff(t_s) < 0.0)
        if back.size:
            row = int(back[0]) + 1
            cells = self.columns[place]
            raise InputError(
                f"The clock jumps back, from {cells[row - 1].strip()[:_SHOWN]} to "
                f"{cells[row].strip()[:_SHOWN]}",
                self.at(place, row),
                "Put the lines in the order of time, or cut the history in two there",
            )
        if not t_s[-1] > t_s[0]:
            raise InputError(
                "All readings are at the same time", self.at(place, 0), "Check the times"
            )
        if t_s[-1] - t_s[0] > _MOST_S:
            raise InputError(
                "The history spans more than thirty years",
                self.at(place, t_s.size - 1),
                "Check the times",
            )
        return t_s


def _roles(
    header: list[str], where: str
) -> tuple[int, list[tuple[int, str, str]], int | None, int | None, list[str]]:
    """Which column is what: time, oscillators (place, name, unit), temperature, note, unused."""
    found: dict[str, int] = {}
    oscillators: list[tuple[int, str, str]] = []
    unused: list[str] = []
    at = f"{where}, first line"
    for place, title in enumerate(header):
        role = title.lower()
        if role in ("t_s", "time"):
            role = "time"
        if role in ("time", "temperature_c", "note"):
            if role in found:
                raise InputError(f"There are two columns for {role}", at, "Keep one of them")
            found[role] = place
        elif match := _OSCILLATOR.fullmatch(title):
            name = (match.group(1) or "").strip() or "oscillator"
            if any(name == known for _, known, _ in oscillators):
                raise InputError(
                    f"There are two columns for {name[:_SHOWN]}", at, "Give each a name of its own"
                )
            oscillators.append((place, name, match.group(2).lower()))
        else:
            unused.append(title[:_SHOWN] or "without a name")
    if "time" not in found:
        raise InputError(
            "There is no column of times", at, "Name one t_s (seconds) or time (clock or date)"
        )
    if not oscillators:
        raise InputError(
            "There is no column of an oscillator",
            at,
            "Name one after it with its unit, such as “Heron f_hz” or “Heron cents”",
        )
    return found["time"], oscillators, found.get("temperature_c"), found.get("note"), unused


def _trace(
    table: _Table, place: int, name: str, unit: str, notes: Array | None, a4_hz: float
) -> Trace:
    values = table.column(place, _number)
    seen = np.flatnonzero(np.isfinite(values))
    if not seen.size:
        raise InputError("There is not one reading", table.at(place, 0), "Drop the column")
    if unit == "cents":
        table.inside(place, values, -_MOST_CENTS, _MOST_CENTS, "a departure in cents")
        return Trace(name, values)
    table.inside(place, values, _LOWEST_HZ, _HIGHEST_HZ, "a pitch in hertz")
    reference = float(values[seen[0]]) if notes is None else note_to_hz(notes, a4_hz)
    return Trace(name, cents_between(values, reference), values)


def _gaps(t_s: Array) -> list[str]:
    steps_s = np.diff(t_s)
    usual_s = float(np.median(steps_s[steps_s > 0.0]))
    gaps = np.flatnonzero(steps_s > _GAP * usual_s)
    if not gaps.size:
        return []
    longest = gaps[np.argmax(steps_s[gaps])]
    count = "There is a gap" if gaps.size == 1 else f"There are {gaps.size} gaps; the longest is"
    verb = " of " if gaps.size == 1 else " "
    return [
        f"{count}{verb}{in_words(float(steps_s[longest]), fine=True)}, "
        f"{in_words(float(t_s[longest] - t_s[0]), fine=True)} after the start."
    ]


def _number(cell: str) -> float:
    cleaned = cell.strip().replace("−", "-")
    if cleaned.lower() in _MISSING:
        return math.nan
    try:
        number = float(cleaned)
    except ValueError:
        number = math.nan
    if not math.isfinite(number) or "_" in cleaned:
        raise InputError(
            f"“{cell.strip()[:_SHOWN]}” is not a number",
            do="Write a number, or leave the cell empty where there was no reading",
        )
    return number


def _note(cell: str) -> float:
    return float(parse_note(cell)) if cell.strip() else math.nan


def _moment(cell: str) -> float:
    """Seconds of a date and time, or of a time of day."""
    cleaned = cell.strip()
    if not cleaned:
        return math.nan
    if match := _CLOCK.fullmatch(cleaned):
        hours, minutes = int(match.group(1)), int(match.group(2))
        seconds = float((match.group(3) or "0").replace(",", "."))
        if hours < 24 and minutes < 60 and seconds < 61.0:
            return 3600.0 * hours + 60.0 * minutes + seconds
    else:
        try:
            moment = datetime.fromisoformat(cleaned)
            if moment.tzinfo is None:
                moment = moment.replace(tzinfo=UTC)
            return moment.timestamp()
        except (ValueError, OverflowError):
            pass
    raise InputError(
        f"“{cleaned[:_SHOWN]}” is not a time",
        do="Write 19:30:05 or 2026-11-25T19:30:05, or name the column t_s and give seconds",
    )
