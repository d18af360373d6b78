"""What a guided trim is asked to do."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from pitchwright.errors import InputError
from pitchwright.procedures.circumstances import (
    NOTHING_SAID,
    Circumstances,
    Conditions,
    SurveyState,
)
from pitchwright.procedures.survey import SurveySettings, notes_of_range
from pitchwright.tracking.conformity import CommonPart
from pitchwright.tracking.target import TargetCurve
from pitchwright.trim.belief import Wander
from pitchwright.trim.trimmer import Trimmer
from pitchwright.units import MIDDLE_C, NOTE_AT_0_V, cents_from_ppm, note_name

__all__ = ["TrimSettings"]


@dataclass(frozen=True, slots=True)
class TrimSettings:
    """One oscillator, its trimmers, and what it should be.

    Attributes
    ----------
    oscillator
        Its name.
    trimmers
        All it has, those that may not be touched included: a hand can slip into them.
    low, high
        Range that matters, MIDI note numbers.
    tolerance_cents
        Greatest error allowed either way.
    target
        What the curve should be.
    own_middle
        Whether errors count from the oscillator's own middle C (or the note nearest to it),
        wherever that lies; the target then gives the shape only.
    step
        Semitones from one note played to the next.
    wider
        A range to try once the first holds, or None.
    note_at_0_v
        The note that 0 V plays.
    settle_s
        How long a note may take to settle, seconds.
    wander
        How fast things move by themselves.
    most_visits
        After so many it is said plainly that it does not converge.
    clock_ppm
        Standard uncertainty of the clock behind the readings, parts per million; 0 where a
        reference cancels it.
    conditions
        What the trim is made under.
    """

    oscillator: str
    trimmers: tuple[Trimmer, ...]
    low: float = 24.0
    high: float = 84.0
    tolerance_cents: float = 1.0
    target: TargetCurve = field(default_factory=TargetCurve.flat)
    own_middle: bool = False
    step: float = 6.0
    wider: tuple[float, float] | None = None
    note_at_0_v: float = NOTE_AT_0_V
    settle_s: float = 10.0
    wander: Wander = field(default_factory=Wander)
    most_visits: int = 10
    clock_ppm: float = 0.0
    conditions: Conditions = NOTHING_SAID

    def __post_init__(self) -> None:
        """Refuse what cannot be done."""
        if not self.oscillator.strip():
            raise InputError("The oscillator needs a name")
        names = [trimmer.name.casefold() for trimmer in self.trimmers]
        for name in names:
            if names.count(name) > 1:
                raise InputError(f"Two trimmers are called “{name}”", do="Give each its own name")
        if not any(trimmer.may_touch for trimmer in self.trimmers):
            raise InputError(
                "There is no trimmer that may be touched",
                self.oscillator,
                "Name at least one; a survey alone needs none",
            )
        if not (math.isfinite(self.clock_ppm) and 0.0 <= self.clock_ppm < 1e5):
            raise InputError(f"The clock cannot be off by {self.clock_ppm:g} ppm")
        if not (math.isfinite(self.tolerance_cents) and self.tolerance_cents > 0.0):
            raise InputError("The tolerance must be above zero cents")
        if not (0.0 <= self.low < self.high <= 140.0):
            raise InputError(
                f"No notes lie from {note_name(self.low)} up to {note_name(self.high)}",
                do="Name the lowest note first, then the highest",
            )
        if self.high - self.low < 2.0 * self.step:
            raise InputError(
                f"{note_name(self.low)} to {note_name(self.high)} in steps of {self.step:g} is too"
                " few notes",
                do="Widen the range or make the step smaller: three notes are the least",
            )
        if self.wider is not None and not (
            self.wider[0] <= self.low and self.high <= self.wider[1] and self.wider != self.range
        ):
            raise InputError("The wider range must hold the first one and more")
        for note in self.all_notes:
            self.target.cents_at(note)

    @property
    def common(self) -> CommonPart:
        """What all errors share: the clock, where the target does not cancel it."""
        cancels = self.own_middle or not self.target.absolute
        return CommonPart(0.0 if cancels else cents_from_ppm(self.clock_ppm))

    def leaving(self, names: Iterable[str]) -> TrimSettings:
        """The settings with trimmers that must not be turned; InputError where one is not there."""
        known = {trimmer.name.casefold(): trimmer.name for trimmer in self.trimmers}
        left = {name.casefold(): name for name in names}
        for folded, name in left.items():
            if folded not in known:
                raise InputError(
                    f"There is no trimmer called “{name}”",
                    self.oscillator,
                    f"It has: {', '.join(known.values())}",
                )
        if not left:
            return self
        trimmers = (
            replace(one, may_touch=one.may_touch and one.name.casefold() not in left)
            for one in self.trimmers
        )
        return replace(self, trimmers=tuple(trimmers))

    @property
    def as_found(self) -> SurveySettings:
        """The survey that a trim begins with."""
        return self._survey(self.notes, SurveyState.AS_FOUND)

    @property
    def as_left(self) -> SurveySettings:
        """The survey that shows what a trim left, at all notes that it was to reach."""
        return self._survey(self.all_notes, SurveyState.AS_LEFT)

    def _survey(self, notes: tuple[float, ...], state: SurveyState) -> SurveySettings:
        return SurveySettings(
            (self.oscillator,),
            notes,
            self.note_at_0_v,
            self.settle_s,
            circumstances=Circumstances(
                state,
                self.target,
                self.own_middle,
                tolerances=(self.tolerance_cents,),
                clock_ppm=self.clock_ppm,
                conditions=self.conditions,
            ),
        )

    @property
    def range(self) -> tuple[float, float]:
        """First and last note of the range that matters."""
        return (self.low, self.high)

    @property
    def notes(self) -> tuple[float, ...]:
        """Notes played in the range that matters."""
        inner = notes_of_range(self.low, self.high, self.step)
        if not self.own_middle or self.middle in inner:
            return inner
        return tuple(sorted({*inner, self.middle}))

    @property
    def middle(self) -> float:
        """Middle C, or the end of the range that is nearest to it."""
        return float(min(max(MIDDLE_C, self.low), self.high))

    @property
    def all_notes(self) -> tuple[float, ...]:
        """Notes played in the range that matters and, where there is one, in the wider range."""
        if self.wider is None:
            return self.notes
        extra: list[float] = []
        if self.wider[0] < self.low:
            extra += notes_of_range(self.wider[0], self.low, self.step)[:-1]
        if self.wider[1] > self.high:
            extra += notes_of_range(self.high, self.wider[1], self.step)[1:]
        return tuple(sorted({*self.notes, *extra}))
