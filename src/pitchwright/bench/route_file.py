"""A route described in TOML: which part is fed from which, and every impedance."""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import Literal

from pydantic import Field

from pitchwright.bench.described import Described, NoteName, read_description
from pitchwright.errors import InputError
from pitchwright.route import (
    Attenuator,
    BufferedMultiple,
    Oscillator,
    Part,
    PassiveMultiple,
    Patch,
    Source,
)
from pitchwright.units import NOTE_AT_0_V, parse_note

__all__ = ["EXAMPLE", "Route", "read_route"]

EXAMPLE = """\
# A route: every part but a source says what it is fed from. All of this is invented.
name = "Loft's splitter"
invented = true
note_at_0_v = "C1"

[source.Loft]
output_ohm = 1000
# gain_error_percent = 0.1, offset_mv = 1.0 and step_error_mv = { G3 = 2.0 }, where known

[multiple.splitter]         # sockets or stacked plugs joined together
kind = "passive"
from = "Loft"

[multiple.copies]           # each output is a copy of its own
kind = "buffered"
from = "Loft"
input_ohm = 100000
output_ohm = 1000

[attenuator.half]
from = "copies"
track_ohm = 50000
position = 0.5

[oscillator.Heron]
from = "splitter"
input_ohm = 100000

[oscillator.Wren]
from = "splitter"
input_ohm = 100000

[oscillator.Plover]
from = "half"
input_ohm = 100000
"""
"""A route file to begin with."""


@dataclass(frozen=True, slots=True)
class Route:
    """A route as described.

    Attributes
    ----------
    patch
        What is plugged into what.
    name
        What it is called; may be empty.
    invented
        Whether its data are invented.
    """

    patch: Patch
    name: str
    invented: bool


class _Source(Described):
    output_ohm: float
    gain_error_percent: float = 0.0
    offset_mv: float = 0.0
    step_error_mv: dict[str, float] = Field(default_factory=dict)


class _Multiple(Described):
    from_: str = Field(alias="from")
    kind: Literal["passive", "buffered"]
    input_ohm: float | None = None
    output_ohm: float | None = None
    gain_error_percent: float = 0.0
    offset_mv: float = 0.0


class _Attenuator(Described):
    from_: str = Field(alias="from")
    track_ohm: float
    position: float


class _Oscillator(Described):
    from_: str = Field(alias="from")
    input_ohm: float


class _Route(Described):
    name: str = ""
    invented: bool = False
    note_at_0_v: NoteName = float(NOTE_AT_0_V)
    source: dict[str, _Source] = Field(default_factory=dict)
    multiple: dict[str, _Multiple] = Field(default_factory=dict)
    attenuator: dict[str, _Attenuator] = Field(default_factory=dict)
    oscillator: dict[str, _Oscillator] = Field(default_factory=dict)


def read_route(path: str | os.PathLike[str]) -> Route:
    """Read a route; docs/route.md says what may stand in it.

    Raises
    ------
    InputError
        Where the file, a field of it, or the patch as a whole is not possible.
    """
    where = os.fspath(path)
    route = read_description(path, _Route)
    try:
        parts: list[Part] = [
            *(_source(name, one) for name, one in route.source.items()),
            *(_multiple(name, one) for name, one in route.multiple.items()),
            *(
                Attenuator(name, one.from_, one.track_ohm, one.position)
                for name, one in route.attenuator.items()
            ),
            *(Oscillator(name, one.from_, one.input_ohm) for name, one in route.oscillator.items()),
        ]
        patch = Patch(tuple(parts), route.note_at_0_v)
    except InputError as fault:
        raise InputError(
            fault.what, f"{where}, {fault.where}" if fault.where else where, fault.do
        ) from fault
    return Route(patch, route.name, route.invented)


def _source(name: str, source: _Source) -> Source:
    steps = {}
    for written, millivolts in source.step_error_mv.items():
        try:
            steps[parse_note(written)] = millivolts / 1000.0
        except InputError as fault:
            raise InputError(fault.what, f"source {name}, step_error_mv", fault.do) from fault
    return Source(
        name,
        source.output_ohm,
        source.gain_error_percent / 100.0,
        source.offset_mv / 1000.0,
        steps,
    )


def _multiple(name: str, multiple: _Multiple) -> PassiveMultiple | BufferedMultiple:
    where = f"multiple {name}"
    if multiple.kind == "passive":
        for field in ("input_ohm", "output_ohm", "gain_error_percent", "offset_mv"):
            if field in multiple.model_fields_set:
                raise InputError(
                    f"A passive multiple has no {field}", where, "Leave it out, or say buffered"
                )
        return PassiveMultiple(name, multiple.from_)
    if multiple.input_ohm is None or multiple.output_ohm is None:
        raise InputError(
            "A buffered multiple needs input_ohm and output_ohm",
            where,
            "100000 and 1000 are usual; its data sheet says",
        )
    return BufferedMultiple(
        name,
        multiple.from_,
        multiple.input_ohm,
        multiple.output_ohm,
        multiple.gain_error_percent / 100.0,
        multiple.offset_mv / 1000.0,
    )
