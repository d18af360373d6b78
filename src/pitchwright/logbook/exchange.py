"""Take the logbook out as JSON lines or CSV, and take JSON lines in.

The first line says which version of the format the file has; every further line is one entry, in
the order written down. What is taken in twice is there once: entries are told apart by ``uid``.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

from pydantic_core import from_json
from sqlalchemy import func, select

from pitchwright.errors import InputError
from pitchwright.logbook import projection
from pitchwright.logbook.entries import KINDS, Entry, body_text, check_body, kind_schema
from pitchwright.logbook.facts import SurveyRecorded
from pitchwright.logbook.store import Logbook
from pitchwright.logbook.tables import entry
from pitchwright.writing import whole_file

__all__ = [
    "FORMAT",
    "entry_line",
    "export_lines",
    "head_line",
    "import_lines",
    "lines_schema",
    "readings_rows",
]

FORMAT: Final = "pitchwright logbook"
VERSION: Final = 1

_CHUNK = 5000
_LONGEST_LINE = 16_000_000
_UID = re.compile(r"[0-9a-f]{32}")
_AT = re.compile(r"\d{4}-[01]\d-[0-3]\dT[0-2]\d:[0-5]\d:[0-5]\d\.\d{6}Z")
_REQUIRED = {"uid", "at_utc", "bench", "kind", "body"}
_OPTIONAL = {"run", "instrument", "corrects"}


def export_lines(
    logbook: Logbook, path: Path, progress: Callable[[float], None] = lambda _: None
) -> int:
    """Write every entry to ``path`` as JSON lines, whole or not at all; how many there were."""
    columns = [entry.c[name] for name in (*_COLUMNS, "body")]
    count = 0
    with logbook.reading() as connection, whole_file(path) as aside:
        total = connection.scalar(select(func.count()).select_from(entry)) or 0
        rows = connection.execute(
            select(*columns).order_by(entry.c.id).execution_options(yield_per=_CHUNK)
        )
        with aside.open("w", encoding="utf-8", newline="\n") as lines:
            lines.write(head_line())
            for part in rows.partitions():
                lines.writelines(_line(*row) for row in part)
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
    size = max(path.stat().st_size, 1) if path.exists() else 1
    with logbook.reading() as connection:
        held = set(connection.scalars(select(entry.c.uid)))
    seen: set[str] = set()
    for row, done in _checked(path):
        if row["uid"] in seen:
            continue
        if row["corrects"] is not None and row["corrects"] not in seen | held:
            raise InputError(
                "It corrects an entry that is neither in this file nor in the logbook",
                f"{path}, uid {row['uid']}, field corrects",
                "Import the file that holds it first",
            )
        seen.add(row["uid"])
        progress(0.5 * done / size)
    new = 0
    with logbook.writing() as connection:
        last = connection.scalar(select(func.max(entry.c.id))) or 0
        held = set(connection.scalars(select(entry.c.uid)))
        waiting: list[dict[str, Any]] = []
        for row, done in _checked(path, bodies=False):
            if row["uid"] in held:
                continue
            held.add(row["uid"])
            waiting.append(row)
            if len(waiting) == _CHUNK:
                connection.execute(entry.insert(), waiting)
                new += len(waiting)
                waiting = []
                progress(0.5 + 0.5 * done / size)
        if waiting:
            connection.execute(entry.insert(), waiting)
            new += len(waiting)
        projection.apply_all(connection, after_id=last)
    return new, len(seen) - new


def head_line() -> str:
    """The first line of an exported logbook."""
    return json.dumps({"format": FORMAT, "version": VERSION}) + "\n"


def entry_line(written: Entry) -> str:
    """One entry as a line of an exported logbook."""
    return _line(
        written.uid,
        written.at_utc,
        written.bench,
        written.what.kind,
        written.run,
        written.instrument,
        written.corrects,
        body_text(written.what),
    )


def lines_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of one line behind the first."""
    definitions: dict[str, Any] = {}
    choices = []
    for kind in sorted(KINDS):
        body = kind_schema(kind)
        definitions.update(body.pop("$defs", {}))
        choices.append({"properties": {"kind": {"const": kind}, "body": body}})
    text = {"type": "string"}
    uid = {"type": "string", "pattern": f"^{_UID.pattern}$"}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"{FORMAT}, version {VERSION}: one entry",
        "type": "object",
        "properties": {
            "uid": uid,
            "at_utc": {"type": "string", "pattern": f"^{_AT.pattern}$"},
            "bench": text,
            "kind": {"enum": sorted(KINDS)},
            "run": uid,
            "instrument": uid,
            "corrects": uid,
            "body": {"type": "object"},
        },
        "required": sorted(_REQUIRED),
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
)


def readings_rows(logbook: Logbook) -> Iterator[tuple[str | float | bool | None, ...]]:
    """Every reading of every recorded survey, a row each, under `READINGS_HEADINGS`."""
    from pitchwright.logbook.history import instrument_names

    names = instrument_names(logbook)
    for recorded in logbook.entries(kinds=(SurveyRecorded.kind,)):
        survey = recorded.what
        assert isinstance(survey, SurveyRecorded)
        for point in survey.points:
            yield (
                recorded.at_utc,
                names.get(recorded.instrument or "", ""),
                survey.state.value,
                point.note,
                point.cv_v,
                point.f_hz,
                point.u_cents,
                point.t_s,
                point.kept,
                point.why,
            )


_COLUMNS = ("uid", "at_utc", "bench", "kind", "run", "instrument", "corrects")


def _line(
    uid: str,
    at_utc: str,
    bench: str,
    kind: str,
    run: str | None,
    instrument: str | None,
    corrects: str | None,
    body: str,
) -> str:
    optional = "".join(
        f',"{name}":"{uid_}"'
        for name, uid_ in (("run", run), ("instrument", instrument), ("corrects", corrects))
        if uid_ is not None
    )
    return (
        f'{{"uid":"{uid}","at_utc":"{at_utc}","bench":{json.dumps(bench, ensure_ascii=False)},'
        f'"kind":"{kind}"{optional},"body":{body}}}\n'
    )


def _checked(path: Path, *, bodies: bool = True) -> Iterator[tuple[dict[str, Any], int]]:
    """Each line as a row of the table, with how many bytes are read; bodies checked if wanted."""
    done = 0
    for number, line in _lines(path):
        done += len(line)
        where = f"{path}, line {number}"
        content = _parsed(line, where)
        if number == 1:
            _check_head(content, where)
            continue
        _check_envelope(content, where)
        try:
            body = json.dumps(
                content["body"], ensure_ascii=False, separators=(",", ":"), allow_nan=False
            )
            body.encode()
        except ValueError:
            # A figure such as 1e999 reads as infinity; half a surrogate pair is no character.
            raise InputError(
                "The body holds a figure or letter that cannot be kept",
                f"{where}, field body",
                _ALL_OR_NONE,
            ) from None
        if bodies:
            try:
                check_body(content["kind"], body)
            except InputError as refused:
                raise InputError(refused.what, f"{where}, {refused.where}", _ALL_OR_NONE) from None
        row = {name: content.get(name) for name in _COLUMNS}
        yield {**row, "body": body}, done


_ALL_OR_NONE = "Nothing was imported; correct the file or export it again"


def _lines(path: Path) -> Iterator[tuple[int, bytes]]:
    try:
        with path.open("rb") as opened:
            number = 0
            while line := opened.readline(_LONGEST_LINE):
                number += 1
                if len(line) == _LONGEST_LINE:
                    raise InputError(
                        "This line is too long", f"{path}, line {number}", _ALL_OR_NONE
                    )
                if line.strip() or number == 1:
                    yield number, line
            if number == 0:
                raise InputError("The file is empty", str(path), "Export the logbook again")
    except OSError as fault:
        raise InputError(
            f"The file cannot be read: {fault.strerror}", str(path), "Check path and permission"
        ) from fault


def _parsed(line: bytes, where: str) -> dict[str, Any]:
    try:
        content = from_json(line, allow_inf_nan=False)
    except ValueError as fault:
        raise InputError(f"This is not JSON ({fault})", where, _ALL_OR_NONE) from None
    if not isinstance(content, dict):
        raise InputError("This is not a JSON object", where, _ALL_OR_NONE)
    return content


def _check_head(content: dict[str, Any], where: str) -> None:
    if content.get("format") != FORMAT:
        raise InputError(
            "This is not an exported logbook", where, f'Its first line says "format": "{FORMAT}"'
        )
    version = content.get("version")
    if type(version) is not int or version < 1:
        raise InputError("The version is not a number", f"{where}, field version", _ALL_OR_NONE)
    if version > VERSION:
        raise InputError(
            f"The file has version {version} of the format, this program knows {VERSION}",
            where,
            "Install the newer version of pitchwright",
        )


def _check_envelope(content: dict[str, Any], where: str) -> None:
    if missing := _REQUIRED - content.keys():
        raise InputError(f"“{min(missing)}” is missing", where, _ALL_OR_NONE)
    if extra := content.keys() - _REQUIRED - _OPTIONAL:
        raise InputError(f"“{min(extra)[:40]}” is not known here", where, _ALL_OR_NONE)
    for name in ("uid", *_OPTIONAL):
        uid = content.get(name)
        if (name in content and not isinstance(uid, str)) or (
            isinstance(uid, str) and not _UID.fullmatch(uid)
        ):
            raise InputError(
                "An identifier has 32 hexadecimal digits", f"{where}, field {name}", _ALL_OR_NONE
            )
    if not isinstance(content["at_utc"], str) or not _AT.fullmatch(content["at_utc"]):
        raise InputError(
            "The time must look like 2026-11-25T10:24:00.000000Z",
            f"{where}, field at_utc",
            _ALL_OR_NONE,
        )
    if not isinstance(content["bench"], str):
        raise InputError("The bench must be text", f"{where}, field bench", _ALL_OR_NONE)
    if "\x00" in content["bench"]:
        raise InputError("The bench has a null character", f"{where}, field bench", _ALL_OR_NONE)
    if not isinstance(content["kind"], str) or content["kind"] not in KINDS:
        raise InputError(
            f"“{str(content['kind'])[:40]}” is not a kind of entry",
            f"{where}, field kind",
            _ALL_OR_NONE,
        )
    if not isinstance(content["body"], dict):
        raise InputError("The body must be an object", f"{where}, field body", _ALL_OR_NONE)
