"""What a chart of curves shows, as plain values with names and units."""

from __future__ import annotations

import math
from dataclasses import dataclass

from pitchwright.pictures.figures import signed
from pitchwright.tracking import OscillatorSurvey
from pitchwright.units import note_name

__all__ = ["CurveShown", "Moved", "NoteShown", "moved", "shown"]


@dataclass(frozen=True, slots=True)
class NoteShown:
    """One note: MIDI number, cents from the target, what covers 95 %, whether it is in doubt."""

    note: float
    cents: float
    expanded_cents: float
    doubt: bool = False

    @property
    def words(self) -> str:
        """Note, cents and ±, as they are read."""
        digits = 1 if self.expanded_cents >= 0.095 else 2
        u = max(self.expanded_cents, 0.01)
        return f"{note_name(self.note)} {signed(self.cents, digits)} ± {u:.{digits}f}"


@dataclass(frozen=True, slots=True)
class CurveShown:
    """One oscillator's curve, and its reach at a tolerance (None: no note for certain)."""

    name: str
    notes: tuple[NoteShown, ...]
    tolerance_cents: float
    low: float | None = None
    high: float | None = None

    @property
    def worst(self) -> NoteShown:
        """The note farthest off, those in doubt left aside where others are there."""
        sure = [one for one in self.notes if not one.doubt] or list(self.notes)
        return max(sure, key=lambda one: abs(one.cents))

    @property
    def reach(self) -> str:
        """The reach in words."""
        if self.low is None or self.high is None:
            return "no note for certain"
        if self.low == self.high:
            return f"{note_name(self.low)} only"
        return f"{note_name(self.low)} to {note_name(self.high)}"


@dataclass(frozen=True, slots=True)
class Moved:
    """How far one note moved from one survey to the next, and what covers 95 % of that."""

    note: float
    cents: float
    expanded_cents: float

    @property
    def certain(self) -> bool:
        """Whether it moved by more than its uncertainty."""
        return abs(self.cents) > self.expanded_cents


def shown(survey: OscillatorSurvey) -> CurveShown:
    """A survey's curve with its tightest tolerance."""
    tightest = min(survey.reaches, key=lambda one: one.tolerance_cents)
    judged = survey.judged(tightest.tolerance_cents).notes
    notes = tuple(
        NoteShown(entry.note, entry.cents, one.expanded_cents, bool(entry.doubt))
        for entry, one in zip(survey.curve.entries, judged, strict=True)
    )
    return CurveShown(survey.name, notes, tightest.tolerance_cents, tightest.low, tightest.high)


def moved(then: CurveShown, now: CurveShown) -> tuple[Moved, ...]:
    """Notes that both surveys hold; notes in doubt are not compared.

    The two readings are independent, so their uncertainties add in squares (GUM 5.1.2).
    """
    before = {one.note: one for one in then.notes if not one.doubt}
    return tuple(
        Moved(
            one.note,
            one.cents - before[one.note].cents,
            math.hypot(one.expanded_cents, before[one.note].expanded_cents),
        )
        for one in now.notes
        if one.note in before and not one.doubt
    )
