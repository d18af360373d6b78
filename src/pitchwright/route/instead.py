"""What to patch instead, so that no cable moves another oscillator.

Wherever parts share a node (a passive multiple, two cables on one output) a buffered multiple can
take its place. Each such place is tried alone, all of them together, and with outputs that hold
their voltage; the patch in which a pulled cable moves least comes first.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from pitchwright.route.circuit import arrivals
from pitchwright.route.patch import Attenuator, BufferedMultiple, PassiveMultiple, Patch, Source
from pitchwright.units import CENTS_PER_OCTAVE

__all__ = ["BufferedPart", "Proposal", "proposals"]

_HOLDS_OHM = 1.0
"""Output impedance of a buffer that senses behind its output resistor (common practice)."""


@dataclass(frozen=True, slots=True)
class BufferedPart:
    """The buffered multiple that is proposed; the usual figures are common practice."""

    input_ohm: float = 100_000.0
    output_ohm: float = 1_000.0


@dataclass(frozen=True, slots=True)
class Proposal:
    """A patch that does better.

    Attributes
    ----------
    what
        What to change, in words.
    patch
        The changed patch.
    worst_change_cents_per_octave
        How far the worst oscillator then moves when any one cable is pulled.
    worst_cents_per_octave
        How far the worst oscillator then is from one volt per octave.
    sentence
        What, and what it brings.
    """

    what: str
    patch: Patch
    worst_change_cents_per_octave: float
    worst_cents_per_octave: float
    sentence: str


def proposals(
    patch: Patch, buffer: BufferedPart, today_cents_per_octave: float
) -> tuple[Proposal, ...]:
    """Better patches, best first; only those in which a pulled cable moves less than today.

    Parameters
    ----------
    patch
        Today's patch.
    buffer
        The buffered multiple there is.
    today_cents_per_octave
        How far the worst oscillator moves today when a cable is pulled.
    """
    shared = [
        part.name
        for part in patch.parts
        if isinstance(part, Source | PassiveMultiple | Attenuator)
        and len(patch.fed_by(part.name)) > 1
    ]
    choices = [(name,) for name in shared] + ([tuple(shared)] if len(shared) > 1 else [])
    tried = []
    for names in choices:
        for output_ohm in sorted({buffer.output_ohm, _HOLDS_OHM}, reverse=True):
            changed = patch
            for name in names:
                changed = _buffered(changed, name, replace(buffer, output_ohm=output_ohm))
            holds = output_ohm == _HOLDS_OHM
            tried.append(_proposal(names, changed, holds))
    better = [
        one for one in tried if one.worst_change_cents_per_octave < 0.9 * today_cents_per_octave
    ]
    return tuple(
        sorted(
            better,
            # To a tenth of a cent: below that the simpler change is the better one.
            key=lambda p: (round(p.worst_change_cents_per_octave, 1), p.worst_cents_per_octave),
        )
    )


def _buffered(patch: Patch, name: str, buffer: BufferedPart) -> Patch:
    """Return the patch with a buffered multiple between this part and all that it feeds."""
    part = patch.part(name)
    if isinstance(part, PassiveMultiple):
        copy = BufferedMultiple(name, part.fed_from, buffer.input_ohm, buffer.output_ohm)
        return replace(patch, parts=tuple(copy if p.name == name else p for p in patch.parts))
    behind = f"buffer behind {name}"
    copy = BufferedMultiple(behind, name, buffer.input_ohm, buffer.output_ohm)
    moved = tuple(
        replace(p, fed_from=behind) if not isinstance(p, Source) and p.fed_from == name else p
        for p in patch.parts
    )
    return replace(patch, parts=(*moved, copy))


def _proposal(names: tuple[str, ...], patch: Patch, holds: bool) -> Proposal:
    before = {one.oscillator: one.gain for one in arrivals(patch)}
    change = 0.0
    for oscillator in patch.oscillators:
        if len(patch.oscillators) < 2:
            break
        for one in arrivals(patch.without(oscillator.name)):
            moved = CENTS_PER_OCTAVE * (one.gain / before[one.oscillator] - 1.0)
            change = max(change, abs(moved))
    off = max(abs(CENTS_PER_OCTAVE * (gain - 1.0)) for gain in before.values())
    places = " and ".join(_place(patch, name) for name in names)
    kind = "buffered multiple whose outputs hold their voltage" if holds else "buffered multiple"
    what = f"Use a {kind} {places}"
    left = (
        "a pulled cable then moves nothing"
        if change < 0.05
        else f"a pulled cable then moves the others by {change:.2f} cents per octave at most"
    )
    return Proposal(
        what=what,
        patch=patch,
        worst_change_cents_per_octave=change,
        worst_cents_per_octave=off,
        sentence=f"{what}: {left}, and the worst oscillator is {off:.2f} cents per octave off"
        " before it is trimmed.",
    )


def _place(patch: Patch, name: str) -> str:
    behind = isinstance(patch.part(name), Source | Attenuator)
    return f"behind {name}" if behind else f"in place of {name}"
