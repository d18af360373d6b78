"""What to turn, and by how much pitch: values, each with its sentence for the person.

Trimmers act on each other, so a move's aim is not zero. A scale trimmer moved to take out s cents
per octave shifts the reading at v volts by -s·(v - p), p being the pivot: the voltage at which
turning it leaves the pitch alone. The aim at v is the reading now minus s·(v - p); base, turned
last, takes out the rest. Until a first turn has shown the pivot it is taken to be 0 V.

Advice does no harm: where what happened meanwhile is in doubt, or where base, scale and high end do
not describe the notes, there is no aim to turn to, and what to find out first is said instead.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar, Final

import numpy as np

from pitchwright.tracking.best import BestPossible, best_possible
from pitchwright.tracking.curve import CurveEntry
from pitchwright.tracking.findings import Finding
from pitchwright.tracking.knee import knee_after
from pitchwright.tracking.model import TermState, TrackingModel
from pitchwright.tracking.reach import Reach
from pitchwright.units import note_name

__all__ = [
    "ASSUMED_PIVOT_V",
    "AddNote",
    "Advised",
    "Knee",
    "NothingToGain",
    "NothingToTurn",
    "Outcome",
    "PlayAgain",
    "SurveyAgain",
    "Turn",
    "Unexplained",
    "advise",
]

ASSUMED_PIVOT_V: Final = 0.0
_NOT_WORTH_CENTS: Final = 0.1
"""Hands do not set a trimmer closer than this (a judgement of ours)."""
_UNEXPLAINED_CENTS: Final = 4.0
_UNEXPLAINED_TIMES: Final = 4.0
"""Left over by more than both (times U), base, scale and high end do not describe the notes."""
_NO_HIGH_END_CENTS_PER_KHZ: Final = 12.0
"""No high end bends as much (2 to 6 cents per kHz is common): the notes do something else."""


@dataclass(frozen=True, slots=True)
class PlayAgain:
    """Notes that look like mistakes, to be played again before anything is turned."""

    kind: ClassVar[str] = "play again"
    notes: tuple[float, ...]

    @property
    def sentence(self) -> str:
        """The advice in words."""
        return (
            f"Play {' and '.join(map(note_name, self.notes))} again before turning anything: far "
            "from the line of the other notes, and not counted in what follows."
        )


@dataclass(frozen=True, slots=True)
class SurveyAgain:
    """What happened meanwhile is in doubt: nothing is to be turned after this survey."""

    kind: ClassVar[str] = "survey again"
    because: str

    @property
    def sentence(self) -> str:
        """The advice in words."""
        return "Turn nothing yet: survey it again first, with every knob left alone."


@dataclass(frozen=True, slots=True)
class Unexplained:
    """Base, scale and high end do not describe the notes."""

    kind: ClassVar[str] = "unexplained"
    left_cents: float
    expanded_cents: float

    @property
    def sentence(self) -> str:
        """The advice in words."""
        return (
            f"Turn nothing yet: base, scale and high end together would leave {self.left_cents:.1f}"
            " cents, far more than the readings are unsure of. Find out what bends it first: are "
            "the channels what they are called, does another oscillator bleed in, is each note the "
            "one that was meant?"
        )


@dataclass(frozen=True, slots=True)
class Knee:
    """In tune up to a note, and from there on it falls or runs away: no scale error."""

    kind: ClassVar[str] = "knee"
    low: float
    last_good: float
    first_off: float
    top: float
    top_cents: float

    @property
    def sentence(self) -> str:
        """The advice in words."""
        falls = "falls" if self.top_cents < 0.0 else "runs sharp"
        return (
            f"It follows a line from {note_name(self.low)} to {note_name(self.last_good)} and "
            f"{falls} from {note_name(self.first_off)} on ({abs(self.top_cents):.1f} cents at "
            f"{note_name(self.top)}): do not turn scale for it. The high-frequency trimmer comes "
            f"first; if it does not reach, the notes above {note_name(self.last_good)} cannot be "
            "used in tune."
        )


@dataclass(frozen=True, slots=True)
class NothingToTurn:
    """Every note is inside the tightest tolerance."""

    kind: ClassVar[str] = "nothing to turn"
    tolerance_cents: float

    @property
    def sentence(self) -> str:
        """The advice in words."""
        within = f"±{self.tolerance_cents:g} cent{_s(self.tolerance_cents)}"
        return f"Nothing to turn: every note measured is within {within}."


@dataclass(frozen=True, slots=True)
class NothingToGain:
    """No trimmer brings the worst note nearer."""

    kind: ClassVar[str] = "nothing to gain"
    worst_cents: float
    trimmers: tuple[str, ...]
    left_cents: float

    @property
    def sentence(self) -> str:
        """The advice in words."""
        return (
            f"Nothing to gain by turning: the worst note is {self.worst_cents:.1f} cents off, and "
            f"with {_listed(self.trimmers)} set as well as can be it would still be "
            f"{self.left_cents:.1f}."
        )


@dataclass(frozen=True, slots=True)
class Turn:
    """One trimmer to turn, in its place in the order.

    Attributes
    ----------
    trimmer
        high, scale or base.
    note
        The note that sounds while it is turned.
    against
        The note against which it is to move; None for base.
    cents
        By how much it moves against that note (base: by itself).
    stop_at_cents
        What the sounding note reads at the end; None where that is not foretold.
    shift_cents
        How the sounding note itself moves, with the pivot at ``pivot_v``; None where not foretold.
    cents_per_oct
        What a scale trimmer adds; None for others.
    pivot_v
        The pivot that is assumed.
    then
        Whether others went before.
    """

    kind: ClassVar[str] = "turn"
    trimmer: str
    note: float
    against: float | None
    cents: float
    stop_at_cents: float | None = None
    shift_cents: float | None = None
    cents_per_oct: float | None = None
    pivot_v: float = ASSUMED_PIVOT_V
    then: bool = False

    @property
    def sentence(self) -> str:
        """The advice in words."""
        note = note_name(self.note)
        if self.trimmer == "high":
            return (
                f"Turn the high-frequency trimmer so that {note} {_moves_by(self.cents)} against "
                f"{note_name(self.against or 0.0)}. Do this before scale and base: it moves both."
            )
        if self.trimmer == "scale":
            return (
                f"Turn the scale trimmer so that {note} {_moves_by(self.cents)} against "
                f"{note_name(self.against or 0.0)} ({_signed(self.cents_per_oct or 0.0, 1)} cents "
                f"per octave). If its pivot is {self.pivot_v:g} V, which is assumed until a turn "
                f"has shown it, {note} itself {_moves_by(self.shift_cents or 0.0)}: stop where it "
                f"reads {_signed(self.stop_at_cents or 0.0, 1)} cents."
            )
        return (
            f"{'Then turn' if self.then else 'Turn'} base {'up' if self.cents > 0 else 'down'} by "
            f"{abs(self.cents):.1f} cents: stop where {note} reads "
            f"{_signed(self.stop_at_cents or 0.0, 1)} cents."
        )


@dataclass(frozen=True, slots=True)
class Outcome:
    """What all turns together leave."""

    kind: ClassVar[str] = "outcome"
    worst_cents: float
    left_cents: float
    trimmers: tuple[str, ...]
    held_by: float | None

    @property
    def sentence(self) -> str:
        """The advice in words."""
        text = (
            f"That takes the worst note from {self.worst_cents:.1f} to {self.left_cents:.1f} cents,"
            f" the least that {_listed(self.trimmers)} can leave"
        )
        if self.held_by is None:
            return f"{text} at the few notes measured."
        return f"{text}; {note_name(self.held_by)} is then among the notes farthest off."


@dataclass(frozen=True, slots=True)
class AddNote:
    """A note to play as well, for a term that the notes played cannot tell."""

    kind: ClassVar[str] = "add a note"
    term: str
    note: int
    sentence: str


Advised = (
    PlayAgain
    | SurveyAgain
    | Unexplained
    | Knee
    | NothingToTurn
    | NothingToGain
    | Turn
    | Outcome
    | AddNote
)


def advise(
    entries: Sequence[CurveEntry],
    model: TrackingModel,
    tightest: Reach,
    findings: Sequence[Finding] = (),
) -> tuple[Advised, ...]:
    """Say what to turn, in order, and what to play to know more.

    Parameters
    ----------
    entries
        The notes of the tracking curve that do not look like mistakes, at least one.
    model
        The fitted model: a high end that it does not know is not turned.
    tightest
        The reach at the tightest tolerance.
    findings
        What happened meanwhile: where one of them is a doubt, nothing is turned.
    """
    unknown = (model.high, model.drift) if model.scale.value is not None else (model.scale,)
    more = tuple(
        AddNote(term.name, term.add_note, term.why)
        for term in unknown
        if term.state is TermState.UNDETERMINED and term.add_note is not None
    )
    doubts = [one for one in findings if one.doubt]
    if doubts:
        return (SurveyAgain(doubts[0].kind),)
    if tightest.whole:
        return (NothingToTurn(tightest.tolerance_cents), *more)
    u = max(entry.expanded_cents for entry in entries)
    full = best_possible(entries, model.v_ref)
    unexplained = full.max_error_cents > max(_UNEXPLAINED_CENTS, _UNEXPLAINED_TIMES * u)
    if unexplained or abs(full.high_cents_per_khz) > _NO_HIGH_END_CENTS_PER_KHZ:
        knee = _knee(entries, u)
        if knee is not None:
            below = [entry for entry in entries if entry.note <= knee.last_good]
            line = best_possible(below, model.v_ref, ("base", "scale"))
            inside = max(abs(entry.cents) for entry in below) <= max(u, _NOT_WORTH_CENTS)
            return (knee,) if inside else (knee, *_turns(below, line, u))
    if unexplained:
        return (Unexplained(full.max_error_cents, u),)
    return (*_turns(entries, _plan(entries, model), u), *more)


def _knee(entries: Sequence[CurveEntry], u: float) -> Knee | None:
    cv_v, cents = (np.array([getattr(e, field) for e in entries]) for field in ("cv_v", "cents"))
    found = knee_after(cv_v, cents, u)
    if found is None:
        return None
    count, top_cents = found
    low, good, off, top = (entries[i].note for i in (0, count - 1, count, -1))
    return Knee(low, good, off, top, top_cents)


def _turns(entries: Sequence[CurveEntry], plan: BestPossible, u: float) -> tuple[Advised, ...]:
    worst = max(abs(entry.cents) for entry in entries)
    if worst - plan.max_error_cents <= max(_NOT_WORTH_CENTS, min(u, 0.1 * worst)):
        return (NothingToGain(worst, plan.trimmers, plan.max_error_cents),)
    few = len(entries) <= len(plan.trimmers)
    left = [abs(e) for e in plan.left_cents]
    held_by = None if few else entries[left.index(max(left))].note
    outcome = Outcome(worst, plan.max_error_cents, plan.trimmers, held_by)
    return (*_moves(entries, plan), outcome)


def _plan(entries: Sequence[CurveEntry], model: TrackingModel) -> BestPossible:
    """With the high end only where it is known and worth a visit."""
    simple = best_possible(entries, model.v_ref, ("base", "scale"))
    if model.high.state is not TermState.KEPT:
        return simple
    full = best_possible(entries, model.v_ref)
    gain = simple.max_error_cents - full.max_error_cents
    return full if gain > _NOT_WORTH_CENTS else simple


def _moves(entries: Sequence[CurveEntry], plan: BestPossible) -> list[Turn]:
    far = max(range(len(entries)), key=lambda i: abs(entries[i].cv_v - ASSUMED_PIVOT_V))
    near = min(range(len(entries)), key=lambda i: abs(entries[i].cv_v - plan.v_ref))
    if near == far:
        near = max(range(len(entries)), key=lambda i: abs(entries[i].cv_v - entries[far].cv_v))
    top, ref = entries[far], entries[near]
    moves: list[Turn] = []
    reading, ref_reading = top.cents, ref.cents

    bend = -plan.high_cents_per_khz
    against = bend * (top.f_hz - ref.f_hz) / 1000.0
    if abs(against) >= _NOT_WORTH_CENTS:
        moves.append(Turn("high", top.note, ref.note, against))
        reading += bend * top.f_hz / 1000.0
        ref_reading += bend * ref.f_hz / 1000.0

    octaves = top.cv_v - ref.cv_v
    against = -plan.scale_cents_per_oct * octaves
    if abs(against) >= _NOT_WORTH_CENTS:
        shift = -plan.scale_cents_per_oct * (top.cv_v - ASSUMED_PIVOT_V)
        reading += shift
        ref_reading += -plan.scale_cents_per_oct * (ref.cv_v - ASSUMED_PIVOT_V)
        moves.append(
            Turn(
                "scale",
                top.note,
                ref.note,
                against,
                stop_at_cents=reading,
                shift_cents=shift,
                cents_per_oct=-plan.scale_cents_per_oct,
                then=bool(moves),
            )
        )
    base = plan.left_cents[near] - ref_reading
    if abs(base) >= _NOT_WORTH_CENTS:
        left = plan.left_cents[near]
        moves.append(Turn("base", ref.note, None, base, stop_at_cents=left, then=bool(moves)))
    return moves


def _moves_by(cents: float) -> str:
    return f"{'rises' if cents > 0 else 'falls'} by {abs(cents):.1f} cents"


def _signed(cents: float, digits: int) -> str:
    text = f"{cents:+.{digits}f}"
    return text[1:] if float(text) == 0.0 else text.replace("-", "−")


def _s(cents: float) -> str:
    return "" if cents == 1.0 else "s"


def _listed(trimmers: Sequence[str]) -> str:
    names = ["high end" if name == "high" else name for name in trimmers]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
