"""Lines, cells and numbers of a table that a person gives; what is none is named with its line."""

from __future__ import annotations

import csv
import os
import re
from typing import Final

from pitchwright.bench.opening import opened
from pitchwright.errors import InputError

__all__ = ["NUMBER", "cells_of", "lines_of", "number_of", "separator_of"]

_MOST_BYTES: Final = 10_000_000
_MOST_ROWS: Final = 100_000
NUMBER: Final = re.compile(r"[+-]?(\d+(?:[.,](\d*))?|[.,](\d+))(?:[eE]([+-]?\d{1,3}))?")
"""Digits, with a decimal point or comma, and an exponent of ten where there is one."""


def lines_of(path: str | os.PathLike[str], where: str) -> list[tuple[int, str]]:
    """Line numbers, from 1, and texts of the lines that are neither empty nor a comment."""
    with opened(path) as raw:
        content = raw.read(_MOST_BYTES + 1)
    if len(content) > _MOST_BYTES:
        raise InputError(
            f"The table is larger than {_MOST_BYTES // 1_000_000} MB",
            where,
            "Give a table of readings",
        )
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise InputError("The table is UTF-16 text", where, "Save it as CSV in UTF-8")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = content.count(b"\n", 0, fault.start) + 1
        raise InputError(
            "The table is not UTF-8 text", f"{where}, line {line}", "Save it as CSV in UTF-8"
        ) from fault
    if "\0" in text:
        raise InputError("This is not a table", where, "Save it as CSV in UTF-8")
    numbered = enumerate(re.split(r"\r\n|\r|\n", text), start=1)
    kept = [
        (number, line)
        for number, line in numbered
        if line.strip(" \t,;") and not line.lstrip().startswith("#")
    ]
    if len(kept) > _MOST_ROWS:
        raise InputError(f"The table has more than {_MOST_ROWS} rows", where, "Shorten it")
    return kept


def separator_of(heading: str) -> str:
    """What stands between the cells, as the first line shows."""
    return next((mark for mark in "\t;," if mark in heading), ",")


def cells_of(line: str, separator: str, where: str, number: int) -> list[str]:
    """The cells of a line, without blanks around them."""
    try:
        rows = list(csv.reader([line], delimiter=separator, strict=True))
    except csv.Error as fault:
        raise InputError(
            "The quotation marks do not match", f"{where}, line {number}", "Remove them"
        ) from fault
    return [cell.strip() for cell in rows[0]]


def number_of(written: str, separator: str, at: str) -> float:
    """The number in a cell; a decimal comma is one only where commas do not separate."""
    plain = written.replace("−", "-")
    if not NUMBER.fullmatch(plain) or ("," in plain and separator == ","):
        raise InputError(
            f"“{written[:40]}” is not a number", at, "Write digits with a decimal point, no unit"
        )
    return float(plain.replace(",", "."))
