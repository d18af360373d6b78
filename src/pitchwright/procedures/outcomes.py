"""What a procedure finds out on the way and hands on: curves, what was learned, verdicts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from pitchwright.tracking.point import Point
from pitchwright.trim.trimmer import Known
from pitchwright.trim.verdict import Verdict

__all__ = ["CurveKnown", "Outcome", "SurveyClosed", "TrimmerLearned", "VerdictGiven"]


@dataclass(frozen=True, slots=True)
class SurveyClosed:
    """Every reading of one oscillator in a survey, in the order taken."""

    kind: ClassVar[str] = "survey closed"
    oscillator: str
    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class CurveKnown:
    """The tracking curve as it is believed to stand now, all readings and moves counted.

    Attributes
    ----------
    oscillator
        Its name.
    notes
        MIDI note numbers, ascending.
    cents
        Away from the target curve, one for each note.
    u_cents
        Standard uncertainty, one for each note.
    after_visit
        How many visits went before; 0 is as found.
    """

    kind: ClassVar[str] = "curve known"
    oscillator: str
    notes: tuple[float, ...]
    cents: tuple[float, ...]
    u_cents: tuple[float, ...]
    after_visit: int


@dataclass(frozen=True, slots=True)
class TrimmerLearned:
    """How a trimmer acts, as far as it is known now; to be kept with the instrument."""

    kind: ClassVar[str] = "trimmer learned"
    oscillator: str
    trimmer: str
    known: Known


@dataclass(frozen=True, slots=True)
class VerdictGiven:
    """The end of a guided trim: what the oscillator is now, and what would help."""

    kind: ClassVar[str] = "verdict given"
    oscillator: str
    verdict: Verdict


Outcome = SurveyClosed | CurveKnown | TrimmerLearned | VerdictGiven
