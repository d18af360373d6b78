"""Descriptions that a person writes in TOML: checked field by field, faults named with their line.

Every field that is not known is refused rather than passed over: a slip in a name would otherwise
change a result without a word.
"""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Sequence
from typing import Annotated, Any, Final, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationError

from pitchwright.bench.opening import opened
from pitchwright.errors import InputError
from pitchwright.units import parse_note

__all__ = ["Described", "NoteName", "read_description"]

_MOST_BYTES: Final = 1_000_000
_MODEL = TypeVar("_MODEL", bound=BaseModel)

_SAID: Final = {
    "missing": "The field is missing",
    "extra_forbidden": "There is no field of this name",
    "float_type": "A number is needed",
    "float_parsing": "A number is needed",
    "finite_number": "The number must be finite",
    "string_type": "A text in quotation marks is needed",
    "bool_type": "true or false is needed",
    "list_type": "A list in square brackets is needed",
    "tuple_type": "A list in square brackets is needed",
    "dict_type": "A table is needed",
    "model_type": "A table is needed",
    "model_attributes_type": "A table is needed",
}


class Described(BaseModel):
    """What every part of a description has in common: nothing unknown, nothing guessed."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


def _note(written: Any) -> float:
    if isinstance(written, str):
        try:
            return float(parse_note(written))
        except InputError as fault:
            raise ValueError(fault.what) from fault
    if isinstance(written, int) and not isinstance(written, bool) and 0 <= written <= 127:
        return float(written)
    raise ValueError("A note is needed, such as “C4” or 60")


NoteName = Annotated[float, BeforeValidator(_note)]
"""A note, written as a name or as a whole number; its MIDI note number."""


def read_description(path: str | os.PathLike[str], model: type[_MODEL]) -> _MODEL:
    """Read a TOML file into a model.

    Raises
    ------
    InputError
        Where the file cannot be read, is not TOML, or a field is not what it should be; the line
        and the field are named, where there is such a line.
    """
    where = os.fspath(path)
    with opened(path) as raw:
        content = raw.read(_MOST_BYTES + 1)
    if len(content) > _MOST_BYTES:
        raise InputError("The description is larger than 1 MB", where, "Describe less")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = content.count(b"\n", 0, fault.start) + 1
        raise InputError(
            "The description is not UTF-8 text", f"{where}, line {line}", "Save it in UTF-8"
        ) from fault
    try:
        written = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as fault:
        found = re.search(r"at line (\d+)", str(fault))
        raise InputError(
            f"This is not TOML: {str(fault).split(' (at ')[0]}",
            f"{where}, line {found[1]}" if found else where,
            "Write a name, an equals sign and a value on each line",
        ) from fault
    try:
        return model.model_validate(written)
    except ValidationError as fault:
        # A slip in a field's name shows as one missing and one unknown: the slip is the fault.
        first = min(fault.errors(), key=lambda one: one["type"] != "extra_forbidden")
        place = [part for part in first["loc"] if not _is_kind(part, written)]
        number = _line_of(text, place)
        field = ".".join(str(part + 1 if isinstance(part, int) else part) for part in place)
        at = f", line {number}" if number else ""
        raise InputError(_sentence(first), f"{where}{at}, {field}") from fault


def _is_kind(part: int | str, written: Any) -> bool:
    """Whether pydantic put a word of its own into the place, such as a choice it tried."""
    return isinstance(part, str) and ("[" in part or "(" in part) and part not in written


def _sentence(fault: Any) -> str:
    if fault["type"] == "value_error":
        return str(fault["ctx"]["error"])
    said = _SAID.get(fault["type"]) or str(fault["msg"]).replace("Input should be", "It should be")
    given = fault.get("input")
    if fault["type"] != "missing" and isinstance(given, str | int | float):
        said += f", not “{str(given)[:40]}”"
    return said


def _line_of(text: str, place: Sequence[int | str]) -> int | None:
    """Find the line where a field, or failing that its table, is written."""
    lines = text.splitlines()
    seen: list[str] = []
    for depth, part in enumerate(place):
        if isinstance(part, str):
            seen.append(part)
            continue
        # The n-th table of an array: count its headings.
        heading = re.compile(rf"\s*\[\[\s*{re.escape('.'.join(seen))}\s*\]\]")
        headed = [n for n, line in enumerate(lines) if heading.match(line)]
        if part < len(headed):
            rest = [name for name in place[depth + 1 :] if isinstance(name, str)]
            return _key_after(lines, headed[part], rest) or headed[part] + 1
    for depth in range(len(seen), 0, -1):
        dotted = r"\s*\.\s*".join(rf"[\"']?{re.escape(name)}[\"']?" for name in seen[:depth])
        heading = re.compile(rf"\s*\[\s*{dotted}\s*\]")
        for number, line in enumerate(lines):
            if heading.match(line):
                return _key_after(lines, number, seen[depth:]) or number + 1
    return _key_after(lines, -1, seen)


def _key_after(lines: Sequence[str], start: int, names: Sequence[str]) -> int | None:
    """Line of the first of these names as a key, before the next heading."""
    for number in range(start + 1, len(lines)):
        if lines[number].lstrip().startswith("["):
            return None
        for name in names:
            if re.match(rf"\s*[\"']?{re.escape(name)}[\"']?\s*[.=]", lines[number]):
                return number + 1
    return None
