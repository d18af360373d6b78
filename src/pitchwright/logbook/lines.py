"""The lines of an exported logbook: written, and read with every one of them checked.

Lines as we write them are taken apart by one regular expression and their bodies judged as they
stand; whatever looks otherwise is parsed, checked part by part, and refused with line and field.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError
from pydantic_core import from_json

from pitchwright.errors import InputError
from pitchwright.logbook.entries import KINDS, Entry, body_checks, body_text, check_body

__all__ = [
    "AT_PATTERN",
    "COLUMNS",
    "FORMAT",
    "OPTIONAL",
    "REQUIRED",
    "UID_PATTERN",
    "VERSION",
    "Row",
    "check_lines",
    "entry_line",
    "head_line",
    "line_of",
    "rows",
]

FORMAT: Final = "pitchwright logbook"
VERSION: Final = 1

COLUMNS: Final = ("uid", "at_utc", "bench", "kind", "run", "instrument", "corrects", "body")
Row = tuple[str, str, str, str, str | None, str | None, str | None, str]
"""One entry as the table holds it, in the order of `COLUMNS`."""

REQUIRED: Final = frozenset({"uid", "at_utc", "bench", "kind", "body"})
_IDENTIFIERS: Final = ("run", "instrument", "corrects")
OPTIONAL: Final = frozenset(_IDENTIFIERS)
UID_PATTERN: Final = r"[0-9a-f]{32}"
AT_PATTERN: Final = r"\d{4}-[01]\d-[0-3]\dT[0-2]\d:[0-5]\d:[0-5]\d\.\d{6}Z"

_LONGEST_LINE = 16_000_000
_ALL_OR_NONE = "Nothing was imported; correct the file or export it again"
_UID, _AT = re.compile(UID_PATTERN), re.compile(AT_PATTERN, re.ASCII)
_AS_WRITTEN = re.compile(
    "".join(
        (
            rf'{{"uid": ?"({UID_PATTERN})"',
            rf', ?"at_utc": ?"({AT_PATTERN})"',
            r', ?"bench": ?"([^"\\\x00-\x1f]*)"',
            r', ?"kind": ?"([a-z ]+)"',
            *(rf'(?:, ?"{name}": ?"({UID_PATTERN})")?' for name in _IDENTIFIERS),
            r', ?"body": ?',
        )
    ),
    re.ASCII,
)
_NEEDS: Final = {
    "instrument described": "instrument",
    "trimmer learned": "instrument",
    "survey recorded": "instrument",
    "started": "run",
    "closed": "run",
    "entry withdrawn": "corrects",
}
"""What an entry of a kind is nothing without."""
_UNCHECKED_WITHIN = frozenset({"started"})
"""Kinds that hold anything at all: a figure beyond all figures would go unseen in them."""


def head_line() -> str:
    """The first line of an exported logbook."""
    return json.dumps({"format": FORMAT, "version": VERSION}) + "\n"


def entry_line(written: Entry) -> str:
    """One entry as a line of an exported logbook."""
    return line_of(
        written.uid,
        written.at_utc,
        written.bench,
        written.what.kind,
        written.run,
        written.instrument,
        written.corrects,
        body_text(written.what),
    )


def line_of(
    uid: str,
    at_utc: str,
    bench: str,
    kind: str,
    run: str | None,
    instrument: str | None,
    corrects: str | None,
    body: str,
) -> str:
    """One row of the table as a line of an exported logbook."""
    optional = "".join(
        f',"{name}":"{uid_}"'
        for name, uid_ in (("run", run), ("instrument", instrument), ("corrects", corrects))
        if uid_ is not None
    )
    return (
        f'{{"uid":"{uid}","at_utc":"{at_utc}","bench":{json.dumps(bench, ensure_ascii=False)},'
        f'"kind":"{kind}"{optional},"body":{body}}}\n'
    )


def check_lines(path: Path, otherwise: set[int]) -> Iterator[tuple[int, int]]:
    """Check each line; its number and how many bytes are read.

    Parameters
    ----------
    path
        The file.
    otherwise
        Is given the numbers of the lines that look otherwise than we write them.

    Raises
    ------
    InputError
        At the first line that is not right, naming file, line and field.
    """
    judges = body_checks()
    for number, line, done in _lines(path):
        found = None if number == 1 else _AS_WRITTEN.match(line)
        if found is not None:
            kind = found[4]
            judge = judges.get(kind)
            if judge is not None and kind not in _UNCHECKED_WITHIN:
                try:
                    judge(_body_of(line, found.end()))
                    if kind in _NEEDS:
                        _check_needs(_row(found, line), number, path)
                    yield number, done
                    continue
                except ValidationError:
                    pass
        otherwise.add(number)
        looked_at = _looked_at(line, number, path)
        if looked_at is not None:
            _check_needs(looked_at, number, path)
            yield number, done


def rows(path: Path, otherwise: set[int]) -> Iterator[tuple[Row, int, int]]:
    """Each line of a file that was checked as a row, with its number and how many bytes are read.

    Parameters
    ----------
    path
        The file.
    otherwise
        The lines that look otherwise than we write them, as `check_lines` found.
    """
    for number, line, done in _lines(path):
        found = None if number in otherwise else _AS_WRITTEN.match(line)
        if found is not None:
            yield _row(found, line), number, done
            continue
        looked_at = _looked_at(line, number, path)
        if looked_at is not None:
            yield looked_at, number, done


def _check_needs(row: Row, number: int, path: Path) -> None:
    needed = _NEEDS.get(row[3])
    if needed is not None and row[COLUMNS.index(needed)] is None:
        raise InputError(
            f"“{needed}” is missing, which “{row[3]}” needs",
            f"{path}, line {number}, field {needed}",
            _ALL_OR_NONE,
        )


def _body_of(line: str, start: int) -> str:
    """What stands between the start and the brace that closes the line; empty where none does."""
    if line.endswith("}\n"):
        return line[start:-2]
    end = line.rstrip()
    return end[start:-1] if end.endswith("}") else ""


def _row(found: re.Match[str], line: str) -> Row:
    uid, at_utc, bench, kind, run, instrument, corrects = found.groups()
    body = _body_of(line, found.end())
    return (uid, at_utc, bench, kind, run, instrument, corrects, body)


def _looked_at(line: str, number: int, path: Path) -> Row | None:
    """A line checked part by part; None for the first, which is the head."""
    where = f"{path}, line {number}"
    content = _parsed(line, where)
    if number == 1:
        _check_head(content, where)
        return None
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
    try:
        check_body(content["kind"], body)
    except InputError as refused:
        raise InputError(refused.what, f"{where}, {refused.where}", _ALL_OR_NONE) from None
    return (
        content["uid"],
        content["at_utc"],
        content["bench"],
        content["kind"],
        content.get("run"),
        content.get("instrument"),
        content.get("corrects"),
        body,
    )


def _lines(path: Path) -> Iterator[tuple[int, str, int]]:
    try:
        with path.open("rb") as opened:
            number = done = 0
            while line := opened.readline(_LONGEST_LINE):
                number += 1
                done += len(line)
                if len(line) == _LONGEST_LINE:
                    raise InputError(
                        "This line is too long", f"{path}, line {number}", _ALL_OR_NONE
                    )
                try:
                    text = line.decode()
                except UnicodeDecodeError:
                    raise InputError(
                        "This is not UTF-8", f"{path}, line {number}", _ALL_OR_NONE
                    ) from None
                if text.strip() or number == 1:
                    yield number, text, done
            if number == 0:
                raise InputError("The file is empty", str(path), "Export the logbook again")
    except OSError as fault:
        raise InputError(
            f"The file cannot be read: {fault.strerror}", str(path), "Check path and permission"
        ) from fault


def _parsed(line: str, where: str) -> dict[str, Any]:
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
    if missing := REQUIRED - content.keys():
        raise InputError(f"“{min(missing)}” is missing", where, _ALL_OR_NONE)
    if extra := content.keys() - REQUIRED - OPTIONAL:
        raise InputError(f"“{min(extra)[:40]}” is not known here", where, _ALL_OR_NONE)
    for name in ("uid", *OPTIONAL):
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
