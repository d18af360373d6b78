"""What a patch is made of, and the checks that make it one.

A patch is a forest: each part but a source is fed from exactly one other part, so that following
``fed_from`` from an oscillator always ends at its source. Two outputs plugged together are not a
patch but a fight, and cannot be written down here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from pitchwright.errors import InputError
from pitchwright.units import NOTE_AT_0_V

__all__ = [
    "Attenuator",
    "BufferedMultiple",
    "Oscillator",
    "Part",
    "PassiveMultiple",
    "Patch",
    "Source",
]


@dataclass(frozen=True, slots=True)
class Source:
    """A keyboard, a sequencer or a converter: what a control voltage comes from.

    Attributes
    ----------
    name
        What it is called.
    output_ohm
        Its output impedance.
    gain_error
        By which fraction its volt per octave is too large (0.01: 1.01 V per octave, 12 cents per
        octave sharp).
    offset_v
        Added to every note.
    step_error_v
        What is added at single notes, by MIDI note number.
    """

    name: str
    output_ohm: float
    gain_error: float = 0.0
    offset_v: float = 0.0
    step_error_v: Mapping[int, float] = field(default_factory=dict)

    def open_v(self, note: float, note_at_0_v: float = NOTE_AT_0_V) -> float:
        """Voltage for a note before anything is plugged in."""
        nominal = (note - note_at_0_v) / 12.0
        step = self.step_error_v.get(int(note), 0.0) if note == int(note) else 0.0
        return nominal * (1.0 + self.gain_error) + self.offset_v + step


@dataclass(frozen=True, slots=True)
class PassiveMultiple:
    """Sockets (or one cable's stacked plugs) joined together: everything on it is one node."""

    name: str
    fed_from: str


@dataclass(frozen=True, slots=True)
class BufferedMultiple:
    """A multiple that copies its input: each part fed from it has an output of its own.

    Attributes
    ----------
    name, fed_from
        What it is called, and what feeds it.
    input_ohm, output_ohm
        Impedance of its input, and of each output.
    gain_error, offset_v
        By how much its copy is too large (a fraction), and what is added to it; this is also where
        a trimmed output is written down.
    """

    name: str
    fed_from: str
    input_ohm: float
    output_ohm: float
    gain_error: float = 0.0
    offset_v: float = 0.0


@dataclass(frozen=True, slots=True)
class Attenuator:
    """A passive attenuator: a resistive track, the output at ``position`` of the way up it.

    Attributes
    ----------
    name, fed_from
        What it is called, and what feeds it.
    track_ohm
        Resistance of the whole track, from the input to ground.
    position
        Share of the voltage taken off it without a load, above 0, at most 1.
    """

    name: str
    fed_from: str
    track_ohm: float
    position: float


@dataclass(frozen=True, slots=True)
class Oscillator:
    """What is fed in the end: a control voltage input, seen as a resistance to ground."""

    name: str
    fed_from: str
    input_ohm: float


Part = Source | PassiveMultiple | BufferedMultiple | Attenuator | Oscillator

_KINDS: dict[type, str] = {
    Source: "source",
    PassiveMultiple: "passive multiple",
    BufferedMultiple: "buffered multiple",
    Attenuator: "attenuator",
    Oscillator: "oscillator",
}
_IMPEDANCES = ("output_ohm", "input_ohm", "track_ohm")


@dataclass(frozen=True, slots=True)
class Patch:
    """Parts and how they are plugged together, checked.

    Attributes
    ----------
    parts
        In any order; at least one source and one oscillator.
    note_at_0_v
        The MIDI note that 0 V plays.

    Raises
    ------
    InputError
        Where a name is used twice or unknown, an impedance is not above zero, a part feeds itself
        round a loop, or there is no source or no oscillator.
    """

    parts: tuple[Part, ...]
    note_at_0_v: float = NOTE_AT_0_V

    def __post_init__(self) -> None:
        _check_names(self.parts)
        for part in self.parts:
            _check_figures(part)
        for part in self.parts:
            self.way_to(part.name)
        for kind in (Source, Oscillator):
            if not any(isinstance(part, kind) for part in self.parts):
                raise InputError(
                    f"There is no {_KINDS[kind]} in this patch", do=f"Describe one {_KINDS[kind]}"
                )

    @property
    def sources(self) -> tuple[Source, ...]:
        """All sources, in the order given."""
        return tuple(part for part in self.parts if isinstance(part, Source))

    @property
    def oscillators(self) -> tuple[Oscillator, ...]:
        """All oscillators, in the order given."""
        return tuple(part for part in self.parts if isinstance(part, Oscillator))

    def part(self, name: str) -> Part:
        """Look a part up by its name."""
        return next(part for part in self.parts if part.name == name)

    def fed_by(self, name: str) -> tuple[Part, ...]:
        """All parts that are fed from this one directly."""
        return tuple(
            part for part in self.parts if not isinstance(part, Source) and part.fed_from == name
        )

    def way_to(self, name: str) -> tuple[str, ...]:
        """Names along the way from the source to this part, both included.

        Raises
        ------
        InputError
            Where the way comes back to a part it has passed.
        """
        way = [name]
        part = self.part(name)
        while not isinstance(part, Source):
            if part.fed_from in way:
                loop = way[way.index(part.fed_from) :]
                raise InputError(
                    f"The route runs in a loop: {' is fed from '.join([*loop, part.fed_from])}",
                    _where(part),
                    "Feed one of them from a source",
                )
            way.append(part.fed_from)
            part = self.part(part.fed_from)
        return tuple(reversed(way))

    def without(self, name: str) -> Patch:
        """Return the same patch with this oscillator's cable pulled."""
        return replace(self, parts=tuple(part for part in self.parts if part.name != name))

    def with_part(self, part: Part) -> Patch:
        """Return the same patch with one more part plugged in."""
        return replace(self, parts=(*self.parts, part))


def _where(part: Part, field_name: str = "") -> str:
    place = f"{_KINDS[type(part)]} {part.name}"
    return f"{place}, {field_name}" if field_name else place


def _check_names(parts: tuple[Part, ...]) -> None:
    names = [part.name for part in parts]
    for part in parts:
        if not part.name.strip():
            raise InputError("A part has no name", _KINDS[type(part)], "Give it one")
        if names.count(part.name) > 1:
            raise InputError(
                f"The name {part.name} is used more than once", _where(part), "Rename one of them"
            )
        if isinstance(part, Source):
            continue
        if part.fed_from not in names:
            raise InputError(
                f"There is no part called “{part.fed_from}”",
                _where(part, "from"),
                f"Name one of {', '.join(name for name in names if name != part.name)}",
            )
        if any(other.name == part.fed_from and isinstance(other, Oscillator) for other in parts):
            raise InputError(
                f"{part.fed_from} is an oscillator and passes no control voltage on",
                _where(part, "from"),
                "Name a source, a multiple or an attenuator",
            )


def _check_figures(part: Part) -> None:
    for name in _IMPEDANCES:
        ohm = getattr(part, name, 1.0)
        if not (math.isfinite(ohm) and ohm > 0.0):
            raise InputError(
                f"An impedance of {ohm:g} ohm cannot be",
                _where(part, name),
                "Write a figure above zero; 0.1 for an output that holds its voltage",
            )
    if isinstance(part, Attenuator) and not 0.0 < part.position <= 1.0:
        raise InputError(
            f"A position of {part.position:g} cannot be",
            _where(part, "position"),
            "Write a figure above 0 and at most 1",
        )
    if isinstance(part, Source | BufferedMultiple):
        for name in ("gain_error", "offset_v"):
            if not math.isfinite(getattr(part, name)):
                raise InputError("Not a number", _where(part, name), "Write a figure")
        if part.gain_error <= -1.0:
            raise InputError(
                f"With a gain error of {part.gain_error:g} no voltage is left",
                _where(part, "gain_error"),
                "Write it as a fraction, 0.01 for one per cent",
            )
