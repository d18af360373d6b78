"""One entry of the logbook, and which kinds there are: the events of procedures and the facts."""

from __future__ import annotations

import dataclasses
import json
import typing
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any, get_args

from pydantic import ConfigDict, TypeAdapter, ValidationError

from pitchwright.errors import InputError
from pitchwright.logbook.facts import Fact
from pitchwright.procedures.events import Happening
from pitchwright.procedures.plain import from_plain, to_plain

__all__ = ["KINDS", "Body", "Entry", "body_text", "check_body", "kind_schema", "parse_body"]

Body = Happening | Fact

KINDS: dict[str, type[Any]] = {
    cls.kind: cls for union in (Happening, Fact) for cls in get_args(union)
}
"""Every kind of entry by its name."""


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
        body = _adapter(kind).validate_json(text)
    except ValidationError:
        # Slower, but it knows the words for infinity, and names what does not fit.
        body = from_plain(json.loads(text), _known(kind), kind)
    return body


def check_body(kind: str, text: str | bytes) -> None:
    """Refuse what `parse_body` would refuse, many times faster; InputError names the field."""
    try:
        _adapter(kind).validate_json(text)
    except ValidationError as refused:
        if _has_words(kind, text):
            return
        first = refused.errors(include_url=False)[0]
        field = ".".join(str(part) for part in first["loc"]) or "the body"
        raise InputError(f"{first['msg']}", f"{kind}, field {field}") from None


def body_checks() -> dict[str, Callable[[str], Any]]:
    """For each kind, what raises ValidationError for a body that is not surely one: for many."""
    return {kind: _adapter(kind).validator.validate_json for kind in KINDS}


def kind_schema(kind: str) -> dict[str, Any]:
    """JSON Schema (2020-12) of the body of one kind."""
    schema: dict[str, Any] = _with_words(_adapter(kind).json_schema(ref_template="#/$defs/{model}"))
    return schema


def _with_words(schema: Any) -> Any:
    """Let a number be one of the words that stand for what JSON has no figure for."""
    if isinstance(schema, dict):
        if schema.get("type") == "number":
            rest = {name: part for name, part in schema.items() if name != "type"}
            return {**rest, "anyOf": [{"type": "number"}, {"enum": ["inf", "-inf", "nan"]}]}
        return {name: _with_words(part) for name, part in schema.items()}
    return [_with_words(part) for part in schema] if isinstance(schema, list) else schema


def _has_words(kind: str, text: str | bytes) -> bool:
    """Whether a body is one once its words for infinity are read."""
    try:
        from_plain(json.loads(text), _known(kind), kind)
    except (InputError, ValueError):
        return False
    return True


@cache
def _adapter(kind: str) -> TypeAdapter[Any]:
    wanted = _known(kind)
    _refuse_extras(wanted)
    return TypeAdapter(wanted)


def _known(kind: str) -> type[Any]:
    try:
        return KINDS[kind]
    except KeyError:
        raise InputError(f"“{kind[:40]}” is not a kind of entry", "kind") from None


def _refuse_extras(wanted: Any) -> None:
    """Have pydantic refuse unknown and mistyped fields in a dataclass and all it contains.

    The core's dataclasses know nothing of pydantic, so the wish is written onto them here.
    """
    for inner in get_args(wanted):
        _refuse_extras(inner)
    if dataclasses.is_dataclass(wanted) and "__pydantic_config__" not in vars(wanted):
        wanted.__pydantic_config__ = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)  # type: ignore[union-attr]
        for inner in typing.get_type_hints(wanted).values():
            _refuse_extras(inner)
