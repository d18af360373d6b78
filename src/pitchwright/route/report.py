"""What the patch does to every oscillator, note by note, and what one cable more or less does.

Two different figures matter, and are kept apart. How flat an oscillator is does not matter much:
its scale trimmer takes it out once. How far it moves when somebody pulls a cable elsewhere matters,
because no trimming can take that out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pitchwright.errors import InputError
from pitchwright.route.circuit import Arrival, arrivals
from pitchwright.route.instead import BufferedPart, Proposal, proposals
from pitchwright.route.patch import Oscillator, Patch, Source
from pitchwright.units import CENTS_PER_OCTAVE, note_name

__all__ = ["Change", "Delivery", "RouteReport", "report"]

_NOTHING_CENTS = 0.05
"""Less than this per octave is not worth a sentence: a tenth of what a survey resolves."""
_SPARE_OHM = 100_000.0
"""The usual input impedance of a control voltage input (common practice)."""


@dataclass(frozen=True, slots=True)
class Delivery:
    """What one oscillator gets.

    Attributes
    ----------
    oscillator, source
        Their names.
    way
        Names from the source to the oscillator.
    gain
        Volts at the input per nominal volt, the source's own gain error included.
    cents_per_octave
        Scale that this gain alone gives: 1200 · (gain - 1).
    offset_cents
        What offsets on the way add at every note.
    notes, cv_v, cents
        MIDI notes, the voltage that arrives at each, and how far that is from nominal.
    sentence
        The same in words.
    """

    oscillator: str
    source: str
    way: tuple[str, ...]
    gain: float
    cents_per_octave: float
    offset_cents: float
    notes: tuple[float, ...]
    cv_v: tuple[float, ...]
    cents: tuple[float, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class Change:
    """What pulling or adding one cable does to oscillators that were trimmed before.

    Attributes
    ----------
    what
        “Heron's cable pulled”, or “one more load of 100 kΩ at Loft”.
    moved
        Oscillator and by how many cents per octave it moves, only those that move.
    worst_cents_per_octave
        The greatest of these, with its sign; 0 where nothing moves.
    sentence
        The same in words.
    """

    what: str
    moved: tuple[tuple[str, float], ...]
    worst_cents_per_octave: float
    sentence: str


@dataclass(frozen=True, slots=True)
class RouteReport:
    """A patch understood.

    Attributes
    ----------
    deliveries
        One for each oscillator.
    pulled, added
        What one cable less, and one more, does.
    instead
        What to patch instead, best first; empty where nothing needs it.
    sentences
        What to know, most important first.
    """

    deliveries: tuple[Delivery, ...]
    pulled: tuple[Change, ...]
    added: tuple[Change, ...]
    instead: tuple[Proposal, ...]
    sentences: tuple[str, ...]


def report(patch: Patch, notes: Sequence[float], buffer: BufferedPart | None = None) -> RouteReport:
    """Work out volts, cents per octave and cents, what a cable changes, what to patch instead.

    Parameters
    ----------
    patch
        What is plugged into what.
    notes
        MIDI notes at which volts and cents are wanted; at least one.
    buffer
        The buffered multiple to propose; a usual one where None.
    """
    if not notes:
        raise InputError("No note was asked for", do="Give at least one note")
    found = arrivals(patch)
    deliveries = tuple(_delivery(patch, arrival, notes) for arrival in found)
    pulled = tuple(
        _change(f"{one.name}'s cable pulled", found, patch.without(one.name))
        for one in patch.oscillators
        if len(patch.oscillators) > 1
    )
    added = tuple(
        _change(
            f"One more load of {_SPARE_OHM / 1000.0:.0f} kΩ at {part.name}",
            found,
            patch.with_part(Oscillator("one more", part.name, _SPARE_OHM)),
        )
        for part in patch.parts
        if not isinstance(part, Oscillator)
    )
    worst = max((abs(c.worst_cents_per_octave) for c in pulled), default=0.0)
    better = proposals(patch, buffer or BufferedPart(), worst) if worst > _NOTHING_CENTS else ()
    return RouteReport(
        deliveries=deliveries,
        pulled=pulled,
        added=added,
        instead=better,
        sentences=_sentences(deliveries, pulled, better),
    )


def _delivery(patch: Patch, arrival: Arrival, notes: Sequence[float]) -> Delivery:
    source = patch.part(arrival.source)
    assert isinstance(source, Source)
    gain = arrival.gain * (1.0 + source.gain_error)
    offset_v = arrival.gain * source.offset_v + arrival.offset_v
    cv_v = tuple(
        arrival.gain * source.open_v(note, patch.note_at_0_v) + arrival.offset_v for note in notes
    )
    cents = tuple(
        CENTS_PER_OCTAVE * (volts - (note - patch.note_at_0_v) / 12.0)
        for note, volts in zip(notes, cv_v, strict=True)
    )
    scale = CENTS_PER_OCTAVE * (gain - 1.0)
    worst = max(range(len(notes)), key=lambda place: abs(cents[place]))
    if max(abs(c) for c in cents) < _NOTHING_CENTS:
        sentence = f"{arrival.oscillator} gets {arrival.source}'s voltage as it should be"
    else:
        sentence = (
            f"{arrival.oscillator} gets {gain:.5g} of {arrival.source}'s nominal voltage, "
            f"{_sense(scale)} per octave; farthest off at {note_name(notes[worst])}, "
            f"{_sense(cents[worst])}"
        )
    return Delivery(
        oscillator=arrival.oscillator,
        source=arrival.source,
        way=patch.way_to(arrival.oscillator),
        gain=gain,
        cents_per_octave=scale,
        offset_cents=CENTS_PER_OCTAVE * offset_v,
        notes=tuple(float(note) for note in notes),
        cv_v=cv_v,
        cents=cents,
        sentence=f"{sentence}.",
    )


def _change(what: str, before: tuple[Arrival, ...], patch: Patch) -> Change:
    after = {arrival.oscillator: arrival.gain for arrival in arrivals(patch)}
    moved = tuple(
        (one.oscillator, change)
        for one in before
        if one.oscillator in after
        # Relative to the gain before: the voice was trimmed to that, whatever it was.
        and abs(change := CENTS_PER_OCTAVE * (after[one.oscillator] / one.gain - 1.0)) > 1e-6
    )
    worst = max((change for _, change in moved), key=abs, default=0.0)
    if abs(worst) < _NOTHING_CENTS:
        sentence = f"{what}: the others stay where they are."
    else:
        names = _listed([name for name, change in moved if abs(change) >= _NOTHING_CENTS])
        sentence = f"{what}: {names} {_becomes(worst)} per octave than before."
    return Change(what, moved, worst, sentence)


def _sentences(
    deliveries: tuple[Delivery, ...], pulled: tuple[Change, ...], better: tuple[Proposal, ...]
) -> tuple[str, ...]:
    said = _alike(deliveries)
    worst = max(pulled, key=lambda change: abs(change.worst_cents_per_octave), default=None)
    if worst is not None and abs(worst.worst_cents_per_octave) >= _NOTHING_CENTS:
        said.insert(0, worst.sentence)
        said.append(
            "A trimmed oscillator hides its loading until a cable is pulled: trim with everything "
            "plugged in that will be plugged in, or take the sharing away."
        )
        if better:
            said.append(better[0].sentence)
    elif pulled:
        said.insert(0, "No cable that is pulled moves another oscillator.")
        if any(abs(d.cents_per_octave) >= _NOTHING_CENTS for d in deliveries):
            said.append(
                "What each oscillator loses stays the same whatever else is plugged in: its scale "
                "trimmer takes it out once and for all."
            )
    return tuple(said)


def _alike(deliveries: tuple[Delivery, ...]) -> list[str]:
    """One sentence for all oscillators that get the same."""
    names: dict[str, list[str]] = {}
    for one in deliveries:
        names.setdefault(one.sentence.removeprefix(f"{one.oscillator} gets "), []).append(
            one.oscillator
        )
    return [
        f"{who[0]} gets {what}" if len(who) == 1 else f"{_and(who)} each get {what}"
        for what, who in names.items()
    ]


def _sense(cents: float) -> str:
    if abs(cents) < _NOTHING_CENTS:
        return "in tune"
    digits = 2 if abs(cents) < 100.0 else 1
    return f"{abs(cents):.{digits}f} cents {'sharp' if cents > 0.0 else 'flat'}"


def _becomes(cents: float) -> str:
    return f"up to {abs(cents):.2f} cents {'sharper' if cents > 0.0 else 'flatter'}"


def _listed(names: Sequence[str]) -> str:
    return f"{_and(names)} {'becomes' if len(names) == 1 else 'become'}"


def _and(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
