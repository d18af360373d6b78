"""One entry of the logbook, and which kinds there are: the events of procedures and the facts."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final, TypedDict, get_args

import msgspec
from sqlalchemy import Row

from pitchwright.errors import InputError
from pitchwright.logbook.facts import Fact
from pitchwright.logbook.shapes import judge, reader
from pitchwright.procedures.events import Happening
from pitchwright.procedures.plain import from_plain, to_plain

__all__ = [
    "COLUMNS",
    "KINDS",
    "REFUSALS",
    "About",
    "Body",
    "Entry",
    "EntryRow",
    "body_text",
    "check_body",
    "entry_of",
    "judges",
    "parse_body",
    "row_of",
]

Body = Happening | Fact

KINDS: dict[str, type] = {cls.kind: cls for union in (Happening, Fact) for cls in get_args(union)}
"""Every kind of entry by its name."""

REFUSALS: Final = (msgspec.MsgspecError, UnicodeDecodeError, RecursionError)
"""What msgspec raises on text that is not the JSON that is wanted."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing written down.

    Attributes
    ----------
    uid
        32 hexadecimal digits, the same wherever the entry is copied to.
    at_utc
        When, ISO 8601 in UTC with microseconds.
    bench
        Which bench wrote it.
    what
        The event or fact.
    run
        The run of a procedure it belongs to, else None.
    instrument
        The instrument it is about, else None.
    corrects
        The entry it corrects, else None.
    """

    uid: str
    at_utc: str
    bench: str
    what: Body
    run: str | None = None
    instrument: str | None = None
    corrects: str | None = None


class About(TypedDict, total=False):
    """What may be said of an entry beside the event or fact itself.

    Attributes
    ----------
    run, instrument, corrects
        As in `Entry`.
    at
        When it happened; now where None.
    """

    run: str | None
    instrument: str | None
    corrects: str | None
    at: datetime | None


COLUMNS: Final = ("uid", "at_utc", "bench", "kind", "run", "instrument", "corrects", "body")
EntryRow = tuple[str, str, str, str, str | None, str | None, str | None, str]
"""One entry as the table holds it, in the order of `COLUMNS`."""


def row_of(written: Entry) -> EntryRow:
    """An entry as the table holds it."""
    return (
        written.uid,
        written.at_utc,
        written.bench,
        written.what.kind,
        written.run,
        written.instrument,
        written.corrects,
        body_text(written.what),
    )


def entry_of(row: Row[Any]) -> Entry:
    """The entry that a row of the table holds; InputError where it holds none."""
    return Entry(
        uid=row.uid,
        at_utc=row.at_utc,
        bench=row.bench,
        what=parse_body(row.kind, row.body),
        run=row.run,
        instrument=row.instrument,
        corrects=row.corrects,
    )


def body_text(what: Body) -> str:
    """The body as one line of JSON, without its kind; the same value gives the same text."""
    plain = to_plain(what, kinds=False)
    text = json.dumps(plain, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    # Half a surrogate pair (a file's name that is not UTF-8) is no character and cannot be kept.
    return text.encode("utf-8", "replace").decode()


def parse_body(kind: str, text: str) -> Body:
    """The event or fact back from its kind and `body_text`; InputError where it is not one."""
    body: Body
    try:
        body = reader(_known(kind)).decode(text)
    except REFUSALS:
        body = _read_closely(kind, text)
    return body


def check_body(kind: str, text: str | bytes) -> None:
    """Refuse what is not strictly a body of its kind; InputError names the field."""
    try:
        judge(_known(kind)).decode(text)
    except REFUSALS:
        _read_closely(kind, text)


def judges() -> dict[str, Callable[[str | bytes], Any]]:
    """For each kind, what raises one of `REFUSALS` where `check_body` might refuse: for many."""
    return {kind: judge(wanted).decode for kind, wanted in KINDS.items()}


def _read_closely(kind: str, text: str | bytes) -> Body:
    """Slower, but it knows the words for infinity, and names what does not fit."""
    wanted = _known(kind)
    try:
        plain = msgspec.json.decode(text)
    except REFUSALS:
        raise InputError(
            "The body holds a figure or letter that cannot be kept", "field body"
        ) from None
    try:
        body: Body = from_plain(plain, wanted)
    except InputError as refused:
        field = f"field {refused.where}" if refused.where else "field body"
        raise InputError(refused.what, f"{kind}, {field}") from None
    return body


def _known(kind: str) -> type:
    try:
        return KINDS[kind]
    except KeyError:
        raise InputError(f"“{kind[:40]}” is not a kind of entry", "kind") from None
