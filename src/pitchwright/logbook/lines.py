"""The lines of an exported logbook: written, and read with every one of them checked.

Some hundred lines at a time are judged as a whole, which is quick; where they do not pass, each is
looked at part by part, and refused with line and field.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any, Final

import msgspec

from pitchwright.errors import InputError
from pitchwright.logbook.entries import KINDS, REFUSALS, Entry, EntryRow, check_body, judges, row_of

__all__ = [
    "AT_PATTERN",
    "FORMAT",
    "OPTIONAL",
    "REQUIRED",
    "UID_PATTERN",
    "VERSION",
    "Checked",
    "changed",
    "check_file",
    "entry_line",
    "head_line",
    "is_time",
    "line_of",
    "rows",
]

FORMAT: Final = "pitchwright logbook"
VERSION: Final = 2
"""A new kind of entry is a new version too: an older program then says what it lacks."""

REQUIRED: Final = frozenset({"uid", "at_utc", "bench", "kind", "body"})
OPTIONAL: Final = frozenset({"run", "instrument", "corrects"})
UID_PATTERN: Final = r"[0-9a-f]{32}"
AT_PATTERN: Final = r"(?:19|2\d)\d\d-[01]\d-[0-3]\dT(?:[01]\d|2[0-3]):[0-5]\d:[0-5]\d\.\d{6}Z"

_Identifier = Annotated[str, msgspec.Meta(min_length=32, max_length=32)]
_Time = Annotated[str, msgspec.Meta(min_length=27, max_length=27)]
_TIMES: Final = re.compile(f"(?:{AT_PATTERN})*", re.ASCII).fullmatch
_UID, _AT = re.compile(UID_PATTERN), re.compile(AT_PATTERN, re.ASCII)

_BLOCK: Final = 1 << 17  # what a processor's cache holds: larger blocks are slower
_LONGEST_LINE: Final = 16_000_000
_ALL_OR_NONE = "Nothing was imported; correct the file or export it again"
_NEEDS: Final = {
    "instrument described": "instrument",
    "trimmer learned": "instrument",
    "survey recorded": "instrument",
    "started": "run",
    "closed": "run",
    "entry withdrawn": "corrects",
}
"""What an entry of a kind is nothing without."""


def head_line() -> str:
    """The first line of an exported logbook."""
    return json.dumps({"format": FORMAT, "version": VERSION}) + "\n"


def entry_line(written: Entry) -> str:
    """One entry as a line of an exported logbook."""
    return line_of(*row_of(written))


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


@dataclass(frozen=True, slots=True)
class Checked:
    """A file of which every line is right.

    Attributes
    ----------
    entries
        How many there are.
    correcting
        Those that correct another: their lines by their identifiers.
    """

    entries: int
    correcting: dict[str, int]


def check_file(path: Path, progress: Callable[[float], None]) -> Checked:
    """Check every line; ``progress`` is given the share that was read.

    Raises
    ------
    InputError
        At the first line that is not right, naming file, line and field.
    """
    judge = judges()
    entries, correcting = 0, {}
    for first, block, share in _blocks(path):
        ones = _quickly(block, judge)
        numbered = _closely(block, first, path) if ones is None else enumerate(ones, first)
        for number, one in numbered:
            entries += 1
            if one.corrects:
                correcting[one.uid] = number
        progress(share)
    return Checked(entries, correcting)


def rows(path: Path) -> Iterator[tuple[list[EntryRow], float]]:
    """The lines of a file that was checked as rows, many at a time, and the share that was read.

    Raises
    ------
    InputError
        Where the file is not what was checked any more.
    """
    for _, block, share in _blocks(path):
        try:
            found = [
                (
                    one.uid,
                    one.at_utc,
                    one.bench,
                    one.kind,
                    one.run or None,
                    one.instrument or None,
                    one.corrects or None,
                    str(one.body, "utf-8"),
                )
                for one in _LINE.decode_lines(block)
            ]
        except REFUSALS:
            raise changed(path) from None
        yield found, share


def changed(path: Path) -> InputError:
    """The file is not what was checked any more."""
    return InputError("The file changed while it was read", str(path), _ALL_OR_NONE)


class _Line(msgspec.Struct, forbid_unknown_fields=True, gc=False):
    """A line behind the first, with its body as it stands."""

    uid: _Identifier
    at_utc: _Time
    bench: str
    kind: str
    body: msgspec.Raw
    run: _Identifier = ""
    instrument: _Identifier = ""
    corrects: _Identifier = ""


_LINE = msgspec.json.Decoder(_Line)
_PARTS = msgspec.json.Decoder(dict[str, msgspec.Raw])


def _quickly(block: bytes, judge: Mapping[str, Callable[[Any], Any]]) -> list[_Line] | None:
    """The lines of a block where all of them are surely right and none is empty, else None."""
    try:
        ones = _LINE.decode_lines(block)
        for one in ones:
            judge[one.kind](one.body)
    except (*REFUSALS, KeyError):
        return None
    # All are as long as they should be, else they would not have been decoded; so what is right
    # for one after the other is right for each.
    identifiers = "".join(
        [text for one in ones for text in (one.uid, one.run, one.instrument, one.corrects)]
    )
    times = "".join([one.at_utc for one in ones])
    right = (
        len(ones) == block.count(b"\n") + (not block.endswith(b"\n"))
        and not identifiers.encode().translate(None, b"0123456789abcdef")
        and _TIMES(times) is not None
        and all(_exists(day) for day in {one.at_utc[:10] for one in ones})
        and not any("\x00" in bench for bench in {one.bench for one in ones})
        and all(getattr(one, _NEEDS[one.kind]) for one in ones if one.kind in _NEEDS)
    )
    return ones if right else None


def _closely(block: bytes, first: int, path: Path) -> Iterator[tuple[int, _Line]]:
    """Each line of a block that is not empty, checked part by part, with its number."""
    for number, line in enumerate(block.split(b"\n"), first):
        if line and not line.isspace():
            _check_closely(line, f"{path}, line {number}")
            yield number, _LINE.decode(line)


def _check_closely(line: bytes, where: str) -> None:
    """Say what is wrong with a line, part by part; nothing where its words for infinity are all."""
    content = _parsed(line, where)
    _check_envelope(content, where)
    needed = _NEEDS.get(content["kind"])
    if needed is not None and needed not in content:
        raise InputError(
            f"“{needed}” is missing, which “{content['kind']}” needs",
            f"{where}, field {needed}",
            _ALL_OR_NONE,
        )
    try:
        check_body(content["kind"], bytes(content["body"]))
    except InputError as refused:
        raise InputError(refused.what, f"{where}, {refused.where}", _ALL_OR_NONE) from None


def _blocks(path: Path) -> Iterator[tuple[int, bytes, float]]:
    """The lines behind the first, some hundred at a time; the first is checked on the way.

    With each block come the number of its first line and the share of the file that was read.
    """
    try:
        with path.open("rb") as opened:
            size = max(path.stat().st_size, 1)
            head = opened.readline(_LONGEST_LINE)
            if not head:
                raise InputError("The file is empty", str(path), "Export the logbook again")
            _check_head(_parsed(head, f"{path}, line 1"), f"{path}, line 1")
            number = 2
            while block := opened.read(_BLOCK):
                rest = opened.readline(_LONGEST_LINE)
                block += rest
                after = number + block.count(b"\n")
                if len(rest) == _LONGEST_LINE:
                    raise InputError("This line is too long", f"{path}, line {after}", _ALL_OR_NONE)
                yield number, block, opened.tell() / size
                number = after
    except OSError as fault:
        raise InputError(
            f"The file cannot be read: {fault.strerror}", str(path), "Check path and permission"
        ) from fault


def _parsed(line: bytes, where: str) -> dict[str, Any]:
    """What a line holds by its keys; the body as it stands."""
    try:
        content: dict[str, Any] = dict(_PARTS.decode(line))
        for name in content.keys() - {"body"}:
            content[name] = msgspec.json.decode(content[name])
    except msgspec.ValidationError:
        raise InputError("This is not a JSON object", where, _ALL_OR_NONE) from None
    except UnicodeDecodeError:
        raise InputError("This is not UTF-8", where, _ALL_OR_NONE) from None
    except REFUSALS as fault:
        raise InputError(f"This is not JSON ({fault})", where, _ALL_OR_NONE) from None
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


def is_time(at_utc: str) -> bool:
    """Whether an entry's time is written as it should be and the calendar has its day."""
    return _AT.fullmatch(at_utc) is not None and _exists(at_utc[:10])


def _exists(day: str) -> bool:
    """Whether the calendar has such a day; the pattern alone lets a 30 February through."""
    try:
        datetime.fromisoformat(day)
    except ValueError:
        return False
    return True


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
    if not _exists(content["at_utc"][:10]):
        raise InputError(
            f"There is no {content['at_utc'][:10]} in the calendar",
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
