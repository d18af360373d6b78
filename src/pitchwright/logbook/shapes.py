"""The dataclasses of events and facts as msgspec judges, reads and describes them.

A shape is a strict twin of a dataclass: it refuses keys that the dataclass does not have, which
msgspec does not do for dataclasses themselves.
"""

from __future__ import annotations

import dataclasses
import inspect
import types
import typing
from functools import cache
from typing import Any, Union

import msgspec

__all__ = ["judge", "reader", "schemas"]


@cache
def judge(wanted: type) -> msgspec.json.Decoder[Any]:
    """What raises msgspec's errors on JSON that is not strictly a ``wanted``."""
    return msgspec.json.Decoder(_shape(wanted))


@cache
def reader(wanted: type) -> msgspec.json.Decoder[Any]:
    """What makes a ``wanted`` of its JSON; keys that it does not have are passed over."""
    return msgspec.json.Decoder(wanted)


def schemas(wanted: tuple[type, ...], ref: str) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """JSON Schema (2020-12) of each, and the definitions that they refer to as ``ref`` says."""
    found, definitions = msgspec.json.schema_components(
        [_shape(one) for one in wanted], ref_template=ref
    )
    return [_with_words(one) for one in found], _with_words(definitions)


@cache
def _shape(wanted: Any) -> Any:
    """The twin of a dataclass, or of a type that is made of dataclasses."""
    if dataclasses.is_dataclass(wanted):
        hints = typing.get_type_hints(wanted)
        return msgspec.defstruct(
            getattr(wanted, "__name__", ""),
            [
                (field.name, _shape(hints[field.name]), _default(field))
                for field in dataclasses.fields(wanted)
            ],
            namespace={"__doc__": inspect.cleandoc(wanted.__doc__ or "")},
            forbid_unknown_fields=True,
            gc=False,
        )
    origin, inner = typing.get_origin(wanted), tuple(_shape(one) for one in typing.get_args(wanted))
    if origin in (Union, types.UnionType):
        return Union.__getitem__(inner)
    return types.GenericAlias(tuple, inner) if origin is tuple else wanted


def _default(field: dataclasses.Field[Any]) -> Any:
    """What stands in a schema where a key may be left out: where it is a dataclass, an object."""
    if field.default is dataclasses.MISSING:
        return msgspec.NODEFAULT
    if dataclasses.is_dataclass(field.default):
        return msgspec.field(default_factory=dict)
    return field.default


def _with_words(schema: Any) -> Any:
    """Let a number be one of the words that stand for what JSON has no figure for."""
    if isinstance(schema, dict):
        if schema.get("type") == "number":
            rest = {name: part for name, part in schema.items() if name != "type"}
            return {**rest, "anyOf": [{"type": "number"}, {"enum": ["inf", "-inf", "nan"]}]}
        return {name: _with_words(part) for name, part in schema.items()}
    return [_with_words(part) for part in schema] if isinstance(schema, list) else schema
