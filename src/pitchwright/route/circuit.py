"""The patch as a circuit, solved node by node.

Wherever parts are joined there is a node. At each node the currents add up to nothing (Kirchhoff's
current law): one linear equation a node. A buffered multiple's outputs are voltages that follow its
input's node, each behind its own output impedance; that nothing flows backwards through it makes
the matrix unsymmetric but no harder. Because everything is linear, one solution for a volt from
each source and one for the buffers' offsets say all there is to say.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pitchwright.route.patch import (
    Attenuator,
    BufferedMultiple,
    Oscillator,
    Part,
    PassiveMultiple,
    Patch,
    Source,
)

__all__ = ["Arrival", "arrivals"]

_Node = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Arrival:
    """What of its source's open voltage arrives at an oscillator: gain · volts + offset.

    Attributes
    ----------
    oscillator, source
        Their names.
    gain
        Volts at the oscillator's input per volt of the unloaded source.
    offset_v
        What buffers on the way add.
    """

    oscillator: str
    source: str
    gain: float
    offset_v: float


def arrivals(patch: Patch) -> tuple[Arrival, ...]:
    """Solve the circuit: one arrival for each oscillator, in the patch's order."""
    nodes = dict.fromkeys(_output(patch, part) for part in patch.parts if not _splits(part))
    nodes.update(dict.fromkeys(_input(patch, p) for p in patch.parts if not isinstance(p, Source)))
    row = {node: place for place, node in enumerate(nodes)}
    sources = {source.name: column for column, source in enumerate(patch.sources)}
    conductance_s = np.zeros((len(row), len(row)))
    current_a = np.zeros((len(row), len(sources) + 1))

    def to_ground(node: _Node, ohm: float) -> None:
        conductance_s[row[node], row[node]] += 1.0 / ohm

    def between(a: _Node, b: _Node, ohm: float) -> None:
        for one, other in ((row[a], row[b]), (row[b], row[a])):
            conductance_s[one, one] += 1.0 / ohm
            conductance_s[one, other] -= 1.0 / ohm

    for part in patch.parts:
        if isinstance(part, Source):
            node = _output(patch, part)
            to_ground(node, part.output_ohm)
            current_a[row[node], sources[part.name]] += 1.0 / part.output_ohm
            continue
        into = _input(patch, part)
        fed_from = patch.part(part.fed_from)
        if isinstance(fed_from, BufferedMultiple):
            to_ground(into, fed_from.output_ohm)
            followed = row[_input(patch, fed_from)]
            conductance_s[row[into], followed] -= (1.0 + fed_from.gain_error) / fed_from.output_ohm
            current_a[row[into], -1] += fed_from.offset_v / fed_from.output_ohm
        if isinstance(part, BufferedMultiple | Oscillator):
            to_ground(into, part.input_ohm)
        if isinstance(part, Attenuator):
            to_ground(_output(patch, part), part.track_ohm * part.position)
            if part.position < 1.0:
                between(into, _output(patch, part), part.track_ohm * (1.0 - part.position))

    solved_v = np.linalg.solve(conductance_s, current_a)
    found = []
    for oscillator in patch.oscillators:
        source = patch.way_to(oscillator.name)[0]
        at_input = solved_v[row[_input(patch, oscillator)]]
        gain, offset_v = float(at_input[sources[source]]), float(at_input[-1])
        found.append(Arrival(oscillator.name, source, gain, offset_v))
    return tuple(found)


def _splits(part: Part) -> bool:
    """Whether each part fed from this one has a node of its own."""
    return isinstance(part, BufferedMultiple | Oscillator)


def _input(patch: Patch, part: Part) -> _Node:
    """Return the node that the part's input is plugged into."""
    assert not isinstance(part, Source)
    fed_from = patch.part(part.fed_from)
    return ("input of", part.name) if _splits(fed_from) else _output(patch, fed_from)


def _output(patch: Patch, part: Part) -> _Node:
    """Return the node that is the part's output."""
    through = isinstance(part, Attenuator) and part.position == 1.0
    if isinstance(part, PassiveMultiple) or through:
        return _input(patch, part)
    return ("output of", part.name)
