"""Frozen dataclasses to plain JSON-able values and back, checked on the way in.

Events are written down for years: what is read back must be exactly what was written, and what
does not fit must be refused with a sentence, never half taken.
"""

from __future__ import annotations

import dataclasses
import math
import types
from enum import Enum
from functools import cache
from typing import Any, Union, get_args, get_origin, get_type_hints

import numpy as np

from pitchwright.errors import InputError

__all__ = ["from_plain", "to_plain"]


def to_plain(value: Any, *, kinds: bool = True) -> Any:
    """Turn a frozen dataclass into dicts, lists, strings, numbers, booleans and None.

    A dataclass becomes a dict that begins with its ``kind`` where it has one and ``kinds`` are
    wanted (where each field allows one class only, they say nothing). Infinity and NaN, which JSON
    lacks, become the words ``"inf"``, ``"-inf"`` and ``"nan"``.
    """
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        kind = getattr(type(value), "kind", None)
        plain = {"kind": kind} if kinds and isinstance(kind, str) else {}
        for field in dataclasses.fields(value):
            plain[field.name] = to_plain(getattr(value, field.name), kinds=kinds)
        return plain
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, str):  # a word out of a table is written down as the plain word
        return str(value)
    if isinstance(value, tuple):
        return [to_plain(item, kinds=kinds) for item in value]
    if isinstance(value, np.generic):  # what a comparison of arrays leaves is no plain truth value
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return "nan" if math.isnan(value) else ("inf" if value > 0 else "-inf")
    return value


def from_plain(plain: Any, wanted: Any, where: str = "") -> Any:
    """Turn plain values back into ``wanted``: a dataclass, a union of them, or a simple type.

    Raises
    ------
    InputError
        Where the values do not have the shape that is wanted.
    """
    if wanted is Any:
        return plain
    origin = get_origin(wanted)
    if origin in (Union, types.UnionType):
        return _from_union(plain, get_args(wanted), where)
    if origin is tuple:
        return _from_list(plain, get_args(wanted), where)
    if dataclasses.is_dataclass(wanted):
        return _from_dict(plain, wanted, where)
    if isinstance(wanted, type) and issubclass(wanted, Enum):
        try:
            return wanted(plain)
        except ValueError:
            raise _misfit(plain, wanted, where) from None
    if isinstance(wanted, type) and issubclass(wanted, str) and wanted is not str:
        if not isinstance(plain, str):
            raise _misfit(plain, wanted, where)
        return wanted(plain)
    if wanted is float:
        if isinstance(plain, str) and plain in ("inf", "-inf", "nan"):
            return float(plain)
        if isinstance(plain, (int, float)) and not isinstance(plain, bool):
            return float(plain)
        raise _misfit(plain, wanted, where)
    if wanted is types.NoneType:
        wanted_type: type[Any] = types.NoneType
    else:
        wanted_type = wanted
    if type(plain) is not wanted_type:
        raise _misfit(plain, wanted, where)
    return plain


@cache
def _hints(wanted: type[Any]) -> dict[str, Any]:
    return get_type_hints(wanted)


def _from_dict(plain: Any, wanted: Any, where: str) -> Any:
    if not isinstance(plain, dict):
        raise _misfit(plain, wanted, where)
    kind = getattr(wanted, "kind", None)
    rest = dict(plain)
    if isinstance(kind, str) and rest.pop("kind", kind) != kind:
        raise _misfit(plain.get("kind"), wanted, where)
    hints, given = _hints(wanted), {}
    for field in dataclasses.fields(wanted):
        inner = f"{where}.{field.name}" if where else field.name
        if field.name in rest:
            given[field.name] = from_plain(rest.pop(field.name), hints[field.name], inner)
        elif field.default is dataclasses.MISSING:
            raise InputError(f"“{field.name}” is missing", inner)
    if rest:
        extra = next(iter(rest))
        raise InputError(f"“{extra}” is not known here", f"{where}.{extra}" if where else extra)
    return wanted(**given)


def _from_union(plain: Any, options: tuple[Any, ...], where: str) -> Any:
    if plain is None and types.NoneType in options:
        return None
    named = {getattr(option, "kind", ""): option for option in options}
    if isinstance(plain, dict) and plain.get("kind") in named:
        return from_plain(plain, named[plain["kind"]], where)
    fitting = [
        option
        for option in options
        if option is not types.NoneType
        and dataclasses.is_dataclass(option) == isinstance(plain, dict)
    ]
    if len(fitting) == 1:  # so what it refuses is named by its own field
        return from_plain(plain, fitting[0], where)
    for option in fitting:
        try:
            return from_plain(plain, option, where)
        except InputError:
            continue
    names = " or ".join(_name(option) for option in options)
    raise InputError(f"{str(plain)[:60]!r} is not a {names}", where)


def _from_list(plain: Any, inner: tuple[Any, ...], where: str) -> tuple[Any, ...]:
    if not isinstance(plain, (list, tuple)):
        raise _misfit(plain, tuple, where)
    if len(inner) == 2 and inner[1] is Ellipsis:
        return tuple(from_plain(item, inner[0], f"{where}[{i}]") for i, item in enumerate(plain))
    if len(plain) != len(inner):
        raise _misfit(plain, tuple, where)
    return tuple(
        from_plain(item, kind, f"{where}[{i}]")
        for i, (item, kind) in enumerate(zip(plain, inner, strict=True))
    )


def _misfit(plain: Any, wanted: Any, where: str) -> InputError:
    return InputError(f"{str(plain)[:60]!r} is not a {_name(wanted)}", where)


def _name(wanted: Any) -> str:
    kind = getattr(wanted, "kind", None)
    return kind if isinstance(kind, str) else getattr(wanted, "__name__", str(wanted))
