"""Take the logbook out as JSON lines or CSV, and take JSON lines in.

The first line says which version of the format the file has; every further line is one entry, in
the order written down. What is taken in twice is there once: entries are told apart by ``uid``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, func, select

from pitchwright.errors import InputError
from pitchwright.logbook import projection
from pitchwright.logbook.entries import COLUMNS, KINDS, EntryRow
from pitchwright.logbook.facts import SurveyRecorded
from pitchwright.logbook.lines import (
    AT_PATTERN,
    FORMAT,
    REQUIRED,
    UID_PATTERN,
    VERSION,
    changed,
    check_file,
    head_line,
    line_of,
    rows,
)
from pitchwright.logbook.shapes import schemas
from pitchwright.logbook.store import Logbook
from pitchwright.logbook.tables import entry, survey
from pitchwright.writing import whole_file

__all__ = ["READINGS_HEADINGS", "export_lines", "import_lines", "lines_schema", "readings_rows"]

_CHUNK = 5000


def export_lines(
    logbook: Logbook, path: Path, progress: Callable[[float], None] = lambda _: None
) -> int:
    """Write every entry to ``path`` as JSON lines, whole or not at all; how many there were."""
    columns = [entry.c[name] for name in COLUMNS]
    count = 0
    with logbook.reading() as connection, whole_file(path) as aside:
        total = connection.scalar(select(func.count()).select_from(entry)) or 0
        found = connection.execute(
            select(*columns).order_by(entry.c.id).execution_options(yield_per=_CHUNK)
        )
        with aside.open("w", encoding="utf-8", newline="\n") as lines:
            lines.write(head_line())
            for part in found.partitions():
                lines.writelines(line_of(*row) for row in part)
                count += len(part)
                progress(count / total)
    return count


def import_lines(
    logbook: Logbook, path: Path, progress: Callable[[float], None] = lambda _: None
) -> tuple[int, int]:
    """Take the entries of a file in: all that are new, or none where any line is refused.

    Parameters
    ----------
    logbook
        Where to.
    path
        JSON lines as `export_lines` writes them, of this or an older version of the format.
    progress
        Is given the part done, 0 to 1: the first half is checking, the second writing.

    Returns
    -------
    new, known
        How many were added, and how many were there already.

    Raises
    ------
    InputError
        Naming file, line and field; nothing was written.
    """
    before = _state(path)
    checked = check_file(path, lambda share: progress(0.5 * share))
    new = 0
    with logbook.writing() as connection:
        last = connection.scalar(select(func.max(entry.c.id))) or 0
        for found, share in rows(path):
            begin = 0
            for place, row in enumerate(found if checked.correcting else ()):
                if row[6] is not None:
                    new += _add(connection, found[begin:place])
                    begin = place
                    where = f"{path}, line {checked.correcting[row[0]]}, field corrects"
                    _check_corrected(connection, row[6], where)
            new += _add(connection, found[begin:])
            progress(0.5 + 0.5 * share)
        if _state(path) != before:
            raise changed(path)
        projection.apply_all(connection, after_id=last)
    return new, checked.entries - new


def _state(path: Path) -> tuple[int, int, int]:
    """By what a file is known to be the same: zeros where there is none."""
    try:
        found = path.stat()
    except OSError:
        return 0, 0, 0
    return found.st_size, found.st_ino, found.st_mtime_ns


def _add(connection: Connection, found: list[EntryRow]) -> int:
    """Add the rows that are not there yet; how many."""
    if not found:
        return 0
    # The statement as the driver takes it: a row's way through SQLAlchemy costs as much as the
    # row itself.
    mark = "?" if connection.dialect.name == "sqlite" else "%s"
    marks = ", ".join([mark] * len(COLUMNS))
    statement = (
        f"INSERT INTO entry ({', '.join(COLUMNS)}) VALUES ({marks}) ON CONFLICT (uid) DO NOTHING"
    )
    return connection.exec_driver_sql(statement, found).rowcount


def _check_corrected(connection: Connection, uid: str, where: str) -> None:
    if connection.scalar(select(entry.c.id).where(entry.c.uid == uid)) is None:
        raise InputError(
            "It corrects an entry that is neither earlier in this file nor in the logbook; nothing "
            "was imported",
            where,
            "Import the file that holds it first",
        )


def lines_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of one line behind the first."""
    kinds = sorted(KINDS)
    bodies, definitions = schemas(tuple(KINDS[kind] for kind in kinds), "#/$defs/{name}")
    choices = [
        {"properties": {"kind": {"const": kind}, "body": body}}
        for kind, body in zip(kinds, bodies, strict=True)
    ]
    text = {"type": "string"}
    uid = {"type": "string", "pattern": f"^{UID_PATTERN}$"}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"{FORMAT}, version {VERSION}: one entry",
        "type": "object",
        "properties": {
            "uid": uid,
            "at_utc": {"type": "string", "pattern": f"^{AT_PATTERN}$"},
            "bench": text,
            "kind": {"enum": kinds},
            "run": uid,
            "instrument": uid,
            "corrects": uid,
            "body": {"type": "object"},
        },
        "required": sorted(REQUIRED),
        "additionalProperties": False,
        "oneOf": choices,
        "$defs": definitions,
    }


READINGS_HEADINGS: Final = (
    "at_utc",
    "instrument",
    "state",
    "note",
    "cv_v",
    "f_hz",
    "u_cents",
    "t_s",
    "kept",
    "why",
    "withdrawn",
)


def readings_rows(logbook: Logbook) -> Iterator[tuple[str | float | bool | None, ...]]:
    """Every reading of every recorded survey, a row each, under `READINGS_HEADINGS`."""
    from pitchwright.logbook.history import instrument_names

    names = instrument_names(logbook)
    with logbook.reading() as connection:
        withdrawn = set(connection.scalars(select(survey.c.uid).where(survey.c.withdrawn)))
    for recorded in logbook.entries(kinds=(SurveyRecorded.kind,)):
        what = recorded.what
        assert isinstance(what, SurveyRecorded)
        for point in what.points:
            yield (
                recorded.at_utc,
                names.get(recorded.instrument or "", ""),
                what.state.value,
                point.note,
                point.cv_v,
                point.f_hz,
                point.u_cents,
                point.t_s,
                point.kept,
                point.why,
                recorded.uid in withdrawn,
            )
