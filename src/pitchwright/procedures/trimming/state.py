"""What is known in the middle of a guided trim; everything in it follows from the answers."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from pitchwright.procedures.conclusion import conclude
from pitchwright.procedures.outcomes import CurveKnown
from pitchwright.procedures.requests import Heard, Report, TurnWatched
from pitchwright.procedures.settings import TrimSettings
from pitchwright.tracking.conformity import JudgedCurve, NoteError, judge
from pitchwright.tracking.coverage import expanded_u
from pitchwright.tracking.point import Point
from pitchwright.trim.acting import Acting
from pitchwright.trim.after_hand import Guess
from pitchwright.trim.aim import Lever
from pitchwright.trim.belief import BASE, SCALE, Belief, Notes
from pitchwright.trim.happened import Weighed
from pitchwright.trim.live_track import standing_start
from pitchwright.trim.pivot import PivotDensity
from pitchwright.trim.plan import Planned, plan, turning_index
from pitchwright.trim.verdict import Standing, Verdict, u_best
from pitchwright.units import cents_between, ratio_of_cents

__all__ = ["Stood", "Trimming"]

Array = NDArray[np.float64]

_GUARD = 2.5
"""Uncertainties kept free while planning: a little more than the verdict needs."""
_AHEAD_S = 60.0
"""Aims are taken for so much later: what drifts meanwhile is met half way."""
_MOST_REREADS = 24
_SURE = ((4.0, 1), (3.0, 3))
"""Uncertainties that must fit before “in tune” is said, and how often a note is read for that."""
_FRESH_BY = 1.2
_MOST_TURNS = 60
_JUMPED_SIGMA, _JUMPED_CENTS = 6.0, 2.0
_HAND = Guess(0.0, 0.5)
"""What is thought of a hand that was never heard going."""
_NO_DRIFT_CENTS, _NO_DRIFT_SIGMA = 1.0, 6.0
"""Further than both from what was foreseen a reading has not drifted."""


@dataclass(frozen=True, slots=True)
class Stood:
    """Where a reading stood before a hand moved it.

    Attributes
    ----------
    cents, u_cents
        The reading and its standard uncertainty.
    t_s
        When.
    off_cents, u_off_cents
        How far that was from what was foreseen, and the standard uncertainty of both together.
    """

    cents: float
    u_cents: float
    t_s: float
    off_cents: float
    u_off_cents: float


@dataclass(slots=True, eq=False)
class Trimming:
    """The state of one guided trim.

    Attributes
    ----------
    settings
        What is asked for.
    belief
        The curve, as it is believed to be.
    target_u
        Uncertainty of the target at each note of the belief, shape (n,).
    active
        Indices of the notes that count now.
    playing
        Index of the note that sounds, -1 where that is not known.
    acting
        Each trimmer by name, as it is known to act.
    in_hand, last_in_hand
        The trimmer that the screwdriver is in, empty where in none; and the one it was in last.
    hand_near
        Whether a hand is there, screwdriver in or not.
    jumped
        Whether a note of the survey came back where drift does not bring it.
    astray
        How often a note lay so far from what was believed that the belief must be wrong.
    exhausted_visits
        Whether another visit would be more than was agreed to.
    surveyed_afresh
        How often every note was read anew.
    hand
        What every note does once the hand has gone and what it warmed has cooled, in cents.
    way
        Which way each trimmer went last: the sign of its amount.
    visit, turns
        Visits so far, turns within this visit.
    rereads
        How often a note was read again for the verdict's sake.
    read_again
        How often each note was since the last turn, by its index.
    small_probes
        How often a probe of each trimmer moved too little to tell much: the next goes further.
    rest_jumps
        Jumps of the reading with the screwdriver in a trimmer and the hand at rest, by its name.
    seen_in_visit, wild_in_visit
        What the turns of this visit did, as things are thought to scatter and drift, and as if they
        did as on a bad evening.
    still
        Turns after which nothing moved any more, by trimmer (with “?” where nothing moved at all).
    """

    settings: TrimSettings
    belief: Belief
    target_u: Array
    active: NDArray[np.intp]
    playing: int = -1
    acting: dict[str, Acting] = field(default_factory=dict)
    in_hand: str = ""
    last_in_hand: str = ""
    hand_near: bool = False
    jumped: bool = False
    astray: int = 0
    exhausted_visits: bool = False
    surveyed_afresh: int = 0
    hand: Guess = _HAND
    way: dict[str, float] = field(default_factory=dict)
    visit: int = 0
    turns: int = 0
    rereads: int = 0
    read_again: Counter[int] = field(default_factory=Counter)
    small_probes: Counter[str] = field(default_factory=Counter)
    rest_jumps: defaultdict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    seen_in_visit: list[Weighed] = field(default_factory=list)
    wild_in_visit: list[Weighed] = field(default_factory=list)
    still: dict[str, int] = field(default_factory=dict)

    @classmethod
    def from_survey(cls, settings: TrimSettings, points: tuple[Point, ...]) -> Trimming:
        """Begin with the readings of a survey."""
        kept = [point for point in points if point.kept]
        sounding = {point.note for point in kept}
        silent = set(settings.notes) - sounding
        listed = [note for note in settings.all_notes if note not in silent]
        notes = Notes.of(listed, settings.note_at_0_v, 440.0)
        target = np.array([settings.target.cents_at(note) for note in listed])
        notes = replace(notes, tuned_hz=notes.tuned_hz * ratio_of_cents(target))
        index = {note: i for i, note in enumerate(listed)}
        belief = Belief.fresh(notes, settings.wander, kept[0].t_s)
        jumped = False
        for point in kept:
            i = index[point.note]
            cents = cents_between(point.f_hz, float(notes.tuned_hz[i]))
            if np.isfinite(belief.read_s[i]):
                foreseen, spread = belief.foresee([i], [point.t_s])
                u_cents = math.hypot(
                    math.sqrt(float(spread[0, 0])), belief.u_reading(point.u_cents)
                )
                off = cents - float(foreseen[0])
                jumped = jumped or abs(off) > max(_JUMPED_SIGMA * u_cents, _JUMPED_CENTS)
                belief = belief.surprised(off, u_cents)
            belief = belief.heard(i, cents, belief.u_reading(point.u_cents), point.t_s)
        state = cls(
            settings,
            belief,
            target_u=np.array([settings.target.u_at(note) for note in listed]),
            active=np.array([index[note] for note in listed if note in sounding]),
            playing=index[kept[-1].note],
            jumped=jumped,
        )
        zero_hz = state.zero_hz()
        state.acting = {one.name: Acting.of(one, zero_hz) for one in settings.trimmers}
        for one in settings.trimmers:
            if one.known is not None and one.known.hand_cents is not None:
                state.hand = Guess(one.known.hand_cents, max(one.known.u_hand_cents, 0.2))
        return state

    # ------------------------------------------------------------------ the curve

    def zero_hz(self) -> float:
        """Frequency that 0 V plays now, by base and scale."""
        mean, notes = self.belief.mean, self.belief.notes
        cents = float(mean[BASE] - mean[SCALE] * notes.ref_v)
        tuned = float(notes.tuned_hz[0]) * 2.0 ** -float(notes.cv_v[0])
        return float(tuned * 2.0 ** (cents / 1200.0))

    def judged(self, belief: Belief | None = None) -> JudgedCurve:
        """The curve against the tolerance: what every verdict rests on."""
        curve, covariance = self.curve(belief)
        notes, u = self.belief.notes.note[self.active], np.sqrt(np.diag(covariance))
        errors = map(NoteError, map(float, notes), map(float, curve), map(float, u))
        return judge(errors, self.settings.tolerance_cents, self.settings.common)

    def expected_after(self, *, hand: bool = True) -> Array:
        """How every note will move once the screwdriver is out and, if so, the hand gone.

        Shape (n,), in cents: the trimmer springs back against the way that it went last.
        """
        count = self.belief.notes.count
        after = np.full(count, self.hand.mean if hand and self.hand_near else 0.0)
        if self.in_hand:
            acting = self.acting[self.in_hand]
            back = -self.way.get(self.in_hand, 0.0) * acting.springs.mean
            after += back * acting.lever(self.belief.notes).shape
        return after

    def curve(self, belief: Belief | None = None) -> tuple[Array, Array]:
        """Errors that count once the hand has gone, and covariance, at the active notes.

        The clock's part aside.
        """
        curve, covariance = (belief or self.belief).curve()
        curve = curve + self.expected_after()
        covariance = covariance + np.diag(self.target_u**2)
        if self.settings.own_middle:
            against = np.eye(len(curve))
            against[:, self._middle()] -= 1.0
            curve, covariance = against @ curve, against @ covariance @ against.T
        active = self.active
        return curve[active], covariance[np.ix_(active, active)]

    def cents(self, heard: Heard, index: int) -> float:
        """A reading as cents from what its note should be."""
        assert heard.f_hz is not None
        return cents_between(heard.f_hz, float(self.belief.notes.tuned_hz[index]))

    def _middle(self) -> int:
        return int(np.abs(self.belief.notes.note - self.settings.middle).argmin())

    def stood(self, index: int, watched: TurnWatched) -> Stood | None:
        """Where drift had brought the reading as the hand began.

        None where it was not seen to stand, or stood where drift alone does not bring it: then it
        had been turned, or knocked, before the watch began.
        """
        track = watched.track
        begun = standing_start(np.array([point.cents for point in track]))
        if begun is None or not self.belief.t_s <= track[0].t_s <= watched.after.t_s:
            return None
        cents, u_cents = begun
        foreseen, spread = self.belief.foresee([index], [track[0].t_s])
        off = cents - float(foreseen[0])
        u_off = math.hypot(math.sqrt(float(spread[0, 0])), u_cents)
        if abs(off) > max(_NO_DRIFT_CENTS, _NO_DRIFT_SIGMA * u_off):
            return None
        return Stood(cents, u_cents, track[0].t_s, off, u_off)

    # ------------------------------------------------------------------ what may be done

    def levers(self) -> list[Lever]:
        """The trimmers that may be moved, with their shapes at the active notes."""
        levers = []
        for acting in self.acting.values():
            if acting.dead or not acting.trimmer.may_touch:
                continue
            lever = acting.lever(self.belief.notes)
            shape, u_shape = lever.shape, lever.u_shape
            if self.settings.own_middle:
                if acting.trimmer.trimmer_kind.is_base:
                    continue
                # Relative to middle C a scale trimmer acts alike wherever its pivot is.
                shape, u_shape = shape - shape[self._middle()], 0.0
            levers.append(replace(lever, shape=shape[self.active], u_shape=u_shape))
        return levers

    def plan(self) -> Planned:
        """The next visit, and what can be reached in all."""
        curve, covariance = self.curve()
        curve = curve + (self.belief.drift_cents(_AHEAD_S) if not self.settings.own_middle else 0.0)
        u_fresh = self.belief.u_fresh
        guard = _GUARD * np.hypot(
            np.minimum(np.sqrt(np.diag(covariance)), u_fresh), self.settings.common.u_cents
        )
        cv_v = self.belief.notes.cv_v[self.active]
        scale = self.scale_pivot()
        turn_at = {}
        for name, acting in self.acting.items():
            kind = acting.trimmer.trimmer_kind
            if kind.is_base or kind.has_pivot:
                turn_at[name] = turning_index(cv_v, acting.pivot if kind.has_pivot else scale)
            else:
                shape = acting.lever(self.belief.notes).shape[self.active]
                turn_at[name] = int(np.abs(shape).argmax())
        tolerance = self.settings.tolerance_cents
        return plan(curve, guard, self.levers(), tolerance, turn_at, self.in_hand)

    def scale_pivot(self) -> PivotDensity:
        """The pivot of the scale trimmer that a hand is likeliest to be in."""
        for acting in self.acting.values():
            entry = acting.trimmer.trimmer_kind.entry
            if entry.has_pivot and entry.pivot_v is None:
                return acting.pivot
        return PivotDensity.at(0.0)

    def unsure(self) -> int | None:
        """The stale note that could still speak against “in tune”; None where none could.

        The verdict needs two uncertainties; a note that was read long ago is read again where four
        would not fit, and where three would not, time and again: base walks on while the others
        are read.
        """
        if self.rereads >= _MOST_REREADS:
            return None
        curve, covariance = self.curve()
        u, common = np.sqrt(np.diag(covariance)), self.settings.common.u_cents
        for sure, most in _SURE:
            over = np.abs(curve) + sure * np.hypot(u, common) - self.settings.tolerance_cents
            open_to = (over > 0.0) & (u > _FRESH_BY * self._fresh_u())
            for i in np.argsort(-over):
                index = self._to_read(int(i))
                if open_to[i] and self.read_again[index] < most:
                    return index
        return None

    def _fresh_u(self) -> float:
        """Uncertainty of an error whose notes were just read."""
        u = math.sqrt(float(np.diag(self.belief.curve()[1])[self.active].min()))
        return u * math.sqrt(2.0) if self.settings.own_middle else u

    def _to_read(self, position: int) -> int:
        """The note to read for the error at a position of the curve: middle C may count too."""
        index = int(self.active[position])
        if self.settings.own_middle:
            middle, read_s = self._middle(), self.belief.read_s
            return middle if read_s[middle] < read_s[index] else index
        return index

    def doubtful(self, planned: Planned) -> int | None:
        """The note whose re-reading may change the verdict; None where none can."""
        if self.rereads >= _MOST_REREADS:
            return None
        curve, covariance = self.curve()
        u = np.sqrt(np.diag(covariance))
        tolerance = self.settings.tolerance_cents
        holds = np.array([note.holds_cents for note in self.judged().notes])
        fresh, common = self._fresh_u(), self.settings.common.u_cents
        would = expanded_u(math.hypot(fresh, common))
        open_to = (holds > tolerance) & (u > _FRESH_BY * fresh)
        open_to &= np.abs(curve) + would <= tolerance
        if open_to.any():
            return self._to_read(int(np.where(open_to, holds, -np.inf).argmax()))
        spread, deciding = u_best(curve, covariance + common**2, list(planned.best_levers))
        if deciding and abs(planned.best_cents - tolerance) < 2.5 * spread and spread > 0.012:
            read_s = self.belief.read_s[self.active]
            return int(self.active[min(deciding, key=lambda i: float(read_s[i]))])
        # Nothing is worth turning now; a fresh reading of what decides may say otherwise.
        promising = planned.best_cents - _GUARD * spread + would <= tolerance
        wanted = [self._to_read(i) for i in deciding if u[i] > _FRESH_BY * fresh]
        if promising:
            return next((index for index in wanted if index not in self.read_again), None)
        return None

    def exhausted(self, planned: Planned) -> bool:
        """Whether another visit is more than was agreed to."""
        assert planned.next is not None
        other = planned.next.lever.trimmer.name != self.in_hand
        return (other and self.visit >= self.settings.most_visits) or self.turns > _MOST_TURNS

    # ------------------------------------------------------------------ results

    def curve_report(self) -> Report:
        """Report the curve as it is believed to stand."""
        curve, covariance = self.curve()
        return Report(
            CurveKnown(
                self.settings.oscillator,
                tuple(float(n) for n in self.belief.notes.note[self.active]),
                tuple(float(c) for c in curve),
                tuple(float(u) for u in np.sqrt(np.diag(covariance))),
                self.visit,
                self.settings.common.u_cents,
            )
        )

    def verdict(self, standing: Standing) -> Verdict:
        """The verdict put together."""
        curve, covariance = self.curve()
        return conclude(
            standing,
            self.settings,
            self.belief,
            self.active,
            curve,
            covariance + self.settings.common.u_cents**2,
            self.judged(),
            self.levers(),
            list(self.acting.values()),
        )
