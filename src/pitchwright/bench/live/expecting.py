"""Whether what is heard can be the note that was asked for: wrong notes, hanging notes, slips.

An oscillator may be far off, and its scale may be wide or narrow, but it is off alike at
neighbouring notes. So a reading is held against the line through the readings that there are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from pitchwright.units import cents_between, note_name, note_of_hz, note_to_hz

__all__ = ["Doubt", "DoubtKind", "Expecting"]

_FIRST_CENTS = 700.0
_NEAR_CENTS, _PER_OCTAVE_CENTS = 80.0, 120.0
_SPREAD_SEMITONES, _BENT_CENTS = 5.0, 30.0
"""Notes this far apart show how wide the scale is; a curve bends by so much an octave besides."""
_STAYED_CENTS, _SURE_CENTS = 5.0, 40.0


class DoubtKind(StrEnum):
    """Why a reading cannot be the note that was asked for."""

    FAR = "far off"
    STAYED = "the pitch stayed"
    OTHER = "another note"


@dataclass(frozen=True, slots=True)
class Doubt:
    """A reading that cannot be the note asked for.

    Attributes
    ----------
    kind
        Why.
    asked, heard
        The note asked for, and the one that sounds, as far as can be told; MIDI note numbers.
    """

    kind: DoubtKind
    asked: float
    heard: float

    @property
    def sentence(self) -> str:
        """The doubt, for a person."""
        asked, heard = note_name(self.asked), note_name(self.heard)
        if self.kind is DoubtKind.FAR:
            return (
                f"{asked} was asked for, and what sounds is near {heard}: did the note arrive, and"
                " is the octave switch where it should be?"
            )
        if self.kind is DoubtKind.STAYED:
            return (
                f"The pitch stayed at {heard} when {asked} was asked for: the note did not arrive,"
                " or another one hangs"
            )
        return f"{asked} was asked for, but {heard} sounds: another note was played, or two at once"


class Expecting:
    """Remembers by how much one oscillator is off where, and what sounded last.

    Parameters
    ----------
    a4_hz
        Pitch of A4.
    """

    def __init__(self, a4_hz: float = 440.0) -> None:
        self._a4_hz = a4_hz
        self._off: dict[float, float] = {}
        self._last: tuple[float, float] | None = None

    def off_cents(self, note: float) -> float | None:
        """How far off a note is expected to be; None where nothing is known."""
        if not self._off:
            return None
        nearest = self._nearest(note)
        return self._off[nearest] + self._per_semitone() * (note - nearest)

    def sure_of(self, note: float) -> bool:
        """Whether what is known tells this note from its neighbours."""
        return bool(self._off) and self._octaves(note) * self._vague() <= _SURE_CENTS

    def nearest_note(self, f_hz: float) -> int:
        """The note that a frequency is likeliest to be."""
        heard = note_of_hz(f_hz, self._a4_hz)
        note = heard
        for _ in range(4):
            note = heard - (self.off_cents(note) or 0.0) / 100.0
        return round(note)

    def doubt(self, note: float, f_hz: float) -> Doubt | None:
        """Why a reading cannot be this note; None where it can."""
        off = cents_between(f_hz, note_to_hz(note, self._a4_hz))
        expected = self.off_cents(note)
        if expected is None:
            if abs(off) <= _FIRST_CENTS:
                return None
            return Doubt(DoubtKind.FAR, note, round(note_of_hz(f_hz, self._a4_hz)))
        if abs(off - expected) <= _NEAR_CENTS + _PER_OCTAVE_CENTS * self._octaves(note):
            return None
        if self.stayed(note, f_hz):
            assert self._last is not None
            return Doubt(DoubtKind.STAYED, note, self._last[0])
        return Doubt(DoubtKind.OTHER, note, self.nearest_note(f_hz))

    def stayed(self, note: float, f_hz: float) -> bool:
        """Whether another note, the last one heard, sounds on."""
        if self._last is None or self._last[0] == note:
            return False
        return abs(cents_between(f_hz, self._last[1])) < _STAYED_CENTS

    def heard(self, note: float, f_hz: float, *, good: bool) -> None:
        """Remember a reading."""
        if good:
            self._off[note] = cents_between(f_hz, note_to_hz(note, self._a4_hz))
            self._last = (note, f_hz)

    def only(self, note: float, f_hz: float) -> None:
        """Forget all readings but this one."""
        self._off.clear()
        self.heard(note, f_hz, good=True)

    def _nearest(self, note: float) -> float:
        return min(self._off, key=lambda known: abs(known - note))

    def _octaves(self, note: float) -> float:
        return abs(note - self._nearest(note)) / 12.0

    def _spread(self) -> bool:
        return bool(self._off) and max(self._off) - min(self._off) >= _SPREAD_SEMITONES

    def _vague(self) -> float:
        """By how much an octave away from what is known may be off, cents."""
        return _BENT_CENTS if self._spread() else _PER_OCTAVE_CENTS

    def _per_semitone(self) -> float:
        """How much more a note is off than the one a semitone below, as far as the notes show."""
        if not self._spread():
            return 0.0
        notes = np.array(list(self._off))
        off = np.array(list(self._off.values()))
        away = notes - notes.mean()
        slope = float(away @ off / (away @ away))
        most = _PER_OCTAVE_CENTS / 12.0
        return math.copysign(min(abs(slope), most), slope)
