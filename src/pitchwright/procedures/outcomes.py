"""What a procedure finds out on the way and hands on: curves, what was learned, verdicts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from pitchwright.procedures.circumstances import Circumstances
from pitchwright.stability import Readiness
from pitchwright.tracking.conformity import CommonPart, JudgedCurve, NoteError, judge
from pitchwright.tracking.point import Point
from pitchwright.trim.trimmer import Known
from pitchwright.trim.verdict import Verdict

__all__ = [
    "CurveKnown",
    "EnsembleSeen",
    "ForecastMade",
    "Outcome",
    "PairHeard",
    "PairsHeard",
    "SurveyClosed",
    "TrimmerLearned",
    "VerdictGiven",
]


@dataclass(frozen=True, slots=True)
class SurveyClosed:
    """Every reading of one oscillator in a survey, in the order taken.

    Attributes
    ----------
    oscillator
        Its name.
    points
        The readings.
    source
        What played it, where that changed in the course of the procedure; else empty.
    circumstances
        How the readings are to be understood; None where a record does not say.
    """

    kind: ClassVar[str] = "survey closed"
    oscillator: str
    points: tuple[Point, ...]
    source: str = ""
    circumstances: Circumstances | None = None


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
        Standard uncertainty, one for each note, what all share aside.
    after_visit
        How many visits went before; 0 is as found.
    u_common_cents
        Standard uncertainty that all notes share: the clock's.
    """

    kind: ClassVar[str] = "curve known"
    oscillator: str
    notes: tuple[float, ...]
    cents: tuple[float, ...]
    u_cents: tuple[float, ...]
    after_visit: int
    u_common_cents: float = 0.0

    def judged(self, tolerance_cents: float) -> JudgedCurve:
        """The curve against a tolerance."""
        errors = map(NoteError, self.notes, self.cents, self.u_cents)
        return judge(errors, tolerance_cents, CommonPart(self.u_common_cents))


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


@dataclass(frozen=True, slots=True)
class ForecastMade:
    """Where one oscillator's warm-up stands, as far as it has been watched.

    What is not known yet is None; a time beyond all forecasts is infinite.

    Attributes
    ----------
    oscillator
        Its name.
    note
        The note it was watched at.
    readiness
        Where it stands.
    ready_in_s, ready_in_low_s, ready_in_high_s
        Time until it is ready: the middle, and the two ends that hold it nine times in ten.
    sure
        Chance that it is ready now.
    drift_cents
        How far the warm-up still moves it within the horizon.
    wander_cents, u_wander_cents
        What it wanders besides within the horizon (half-width, k = 2), with standard uncertainty.
    cents_per_k, u_cents_per_k
        What a kelvin does, where a temperature was read.
    tolerance_cents, horizon_s
        What was asked.
    watched_s
        For how long it has been watched.
    sentence, why
        The same in words, and what it rests on.
    """

    kind: ClassVar[str] = "forecast made"
    oscillator: str
    note: float
    readiness: Readiness
    ready_in_s: float
    ready_in_low_s: float
    ready_in_high_s: float
    sure: float
    drift_cents: float | None
    wander_cents: float | None
    u_wander_cents: float | None
    cents_per_k: float | None
    u_cents_per_k: float | None
    tolerance_cents: float
    horizon_s: float
    watched_s: float
    sentence: str
    why: str


@dataclass(frozen=True, slots=True)
class PairHeard:
    """Two oscillators at one note: how much higher the first is, and how they beat."""

    kind: ClassVar[str] = "pair heard"
    first: str
    second: str
    cents: float
    u_cents: float
    beat_hz: float


@dataclass(frozen=True, slots=True)
class PairsHeard:
    """Every pair of oscillators at one note, as soon as it was read.

    Attributes
    ----------
    source
        What played the note.
    note
        MIDI note number.
    pairs
        Those of which both gave a reading that counts.
    """

    kind: ClassVar[str] = "pairs heard"
    source: str
    note: float
    pairs: tuple[PairHeard, ...]


@dataclass(frozen=True, slots=True)
class EnsembleSeen:
    """The end of an ensemble check: all oscillators, and the sources, together.

    Attributes
    ----------
    oscillators, sources
        Their names.
    leader
        Whose curve the others follow best.
    reference_hz
        The pitch of A4 that suits all of them best as they are.
    left_cents
        How far the farthest then is.
    tolerance_cents
        What was asked.
    together
        First and last note of the run in which all are inside the tolerance; None where none is.
    sentences
        The instrument at a glance, in words.
    whose_error
        Whose error it is, in words.
    """

    kind: ClassVar[str] = "ensemble seen"
    oscillators: tuple[str, ...]
    sources: tuple[str, ...]
    leader: str
    reference_hz: float
    left_cents: float
    tolerance_cents: float
    together: tuple[float, float] | None
    sentences: tuple[str, ...]
    whose_error: tuple[str, ...]


Outcome = (
    SurveyClosed
    | CurveKnown
    | TrimmerLearned
    | VerdictGiven
    | ForecastMade
    | PairsHeard
    | EnsembleSeen
)
