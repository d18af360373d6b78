"""Guided trimming: from as found to as left in as few visits as can be.

Theory of operation
-------------------
State. A survey gives a belief about the curve: base, scale, high end, drift and each note's own
source error (``trim.belief``). A turn is taken as an unknown change of base and scale (and of the
high end where there is such a trimmer); two notes (three) read after it bring the whole curve
back. So old readings stay valid, and a wrong trimmer, a bumped knob or backlash is absorbed.

Each round does one of three things, chosen anew from the belief alone:

- *verdict*: every note is inside the tolerance, guard band included; or nothing that may be turned
  gains anything worth it, and re-reading cannot change that;
- *read* one note again: where only uncertainty, not error, stands in the way;
- *turn* a trimmer: the first of the fewest visits that bring the curve inside (``trim.plan``), in
  the order high end, scale, base. The trimmer that the screwdriver is in costs next to nothing,
  so a visit goes on (probe, exact aim, nudges, readings while the hand stays) until another
  trimmer or a verdict is due.

A turn. The turning note is read afresh and the plan made again; the aim is its reading plus what
the move must shift there. Where the pivot is not known well enough, the first turn is a short
probe. A stop outside the window is nudged at the same aim, without other notes played; once inside
(or at a limit) the far note is played, the hand staying where it is. Then what happened is weighed
(``trim.happened``), said, and the pivot and effect are learned.

Nothing here reads a clock or touches the world: times come with the answers, so the same answers
give the same state, and a procedure that was interrupted goes on from its events (``events``).
"""

from __future__ import annotations

import math
from collections.abc import Generator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.procedures import sentences
from pitchwright.procedures.conclusion import conclude
from pitchwright.procedures.outcomes import CurveKnown, TrimmerLearned, VerdictGiven
from pitchwright.procedures.requests import (
    Answer,
    Ended,
    Heard,
    Report,
    Request,
    Tell,
    TurnWatched,
    WatchTurn,
    expect,
)
from pitchwright.procedures.settings import TrimSettings
from pitchwright.procedures.survey import SurveySettings, listen, survey
from pitchwright.tracking.point import Point
from pitchwright.trim.acting import Acting
from pitchwright.trim.aim import Lever, best_amounts
from pitchwright.trim.belief import BASE, SCALE, Belief, Notes
from pitchwright.trim.happened import Happened, Seen, Weighed, bumped_meanwhile, weigh
from pitchwright.trim.live_track import gap_about, jump_cents, went_wrong_way
from pitchwright.trim.pivot import PivotDensity
from pitchwright.trim.plan import Next, Planned, plan, turning_index
from pitchwright.trim.trimmer import Known, TrimmerKind
from pitchwright.trim.verdict import COVERAGE, Standing, Verdict, conforms, u_best
from pitchwright.units import cents_between, note_name, ratio_of_cents

__all__ = ["TrimResult", "guided_trim"]

Array = NDArray[np.float64]

_GUARD = 2.5
"""Uncertainties kept free while planning: a little more than the verdict needs."""
_FRESH_U_CENTS = 0.08
_MOST_ROUNDS = 80
_MOST_NUDGES = 9
_MOST_REREADS = 24
_PROBE_CENTS = (5.0, 15.0)
_FRESH_S = 4.0


@dataclass(frozen=True, slots=True)
class TrimResult:
    """What a guided trim leaves behind.

    Attributes
    ----------
    verdict
        How the oscillator stands.
    as_found
        The survey's readings.
    visits
        How often a screwdriver went in.
    known
        How each trimmer that was turned acts, by name.
    """

    verdict: Verdict
    as_found: tuple[Point, ...]
    visits: int
    known: dict[str, Known]


Steps = Generator[Request, Answer, None]


def guided_trim(settings: TrimSettings) -> Generator[Request, Answer, TrimResult]:
    """Take one oscillator from as found to as left.

    Raises
    ------
    InputError
        Where nothing sounds in the range, the readings cannot resolve the tolerance, or an answer
        contradicts the request. The events up to there stay good: it can be gone on from.
    """
    return _Trim(settings).run()


class _Trim:
    """The state of one guided trim; everything in it follows from the answers."""

    belief: Belief

    def __init__(self, settings: TrimSettings) -> None:
        self.settings = settings
        self.acting: dict[str, Acting] = {}
        self.in_hand = ""
        self.visit = self.turns = 0
        self.seen_in_visit: list[Weighed] = []
        self.playing = -1
        self.rereads = 0
        self.still: dict[str, int] = {}
        self.active: NDArray[np.intp] = np.empty(0, dtype=np.intp)
        self.target_u: Array = np.empty(0)

    # ------------------------------------------------------------------ the whole

    def run(self) -> Generator[Request, Answer, TrimResult]:
        settings = self.settings
        points = yield from self._survey(settings.notes)
        self._begin(points)
        yield self._curve_report()
        verdict = yield from self._rounds()
        if settings.wider is not None and verdict.standing is Standing.IN_TUNE:
            verdict = yield from self._extend()
        yield from self._withdraw()
        yield self._curve_report()
        yield Report(VerdictGiven(settings.oscillator, verdict))
        known = {
            name: acting.known(self._zero_hz())
            for name, acting in self.acting.items()
            if acting.acted
        }
        return TrimResult(verdict, points, self.visit, known)

    def _rounds(self) -> Generator[Request, Answer, Verdict]:
        """Choose and act until there is a verdict."""
        for _ in range(_MOST_ROUNDS):
            curve, covariance = self._curve()
            u = np.sqrt(np.diag(covariance))
            if conforms(curve, u, self.settings.tolerance_cents).all():
                return self._verdict(Standing.IN_TUNE)
            planned = self._plan()
            doubtful = self._doubtful(planned, curve, covariance)
            if planned.next is not None:
                if self._exhausted(planned):
                    break
                yield from self._turn(planned)
            elif doubtful is not None:
                self.rereads += 1
                yield from self._read(doubtful, "again, because its reading decides the verdict")
            else:
                break
        planned = self._plan()
        beyond = planned.best_cents > self.settings.tolerance_cents
        return self._verdict(Standing.CANNOT if beyond else Standing.NOT_CERTIFIABLE)

    def _extend(self) -> Generator[Request, Answer, Verdict]:
        """Try the wider range; fall back on the first where it does not hold."""
        wider = self.settings.wider or self.settings.range
        yield Tell(
            "extend the reach",
            f"The range holds; now {note_name(wider[0])} to {note_name(wider[1])} is tried.",
        )
        narrow = self.active
        notes = self.belief.notes.note
        for index in range(len(notes)):
            if index not in narrow:
                yield from self._read(index, "to see whether the reach extends to it")
        self.active = np.flatnonzero(np.isfinite(self.belief.read_s))
        if self._plan().fits:
            wide = yield from self._rounds()
            if wide.standing is Standing.IN_TUNE:
                return wide
        wide = self._verdict(Standing.NOT_CERTIFIABLE)
        self.active = narrow
        again = yield from self._rounds()
        return replace(again, wider_run=wide.narrower)

    # ------------------------------------------------------------------ survey and belief

    def _survey(self, notes: tuple[float, ...]) -> Generator[Request, Answer, tuple[Point, ...]]:
        settings = self.settings
        asked = SurveySettings(
            (settings.oscillator,), notes, settings.note_at_0_v, settings.settle_s
        )
        points = (yield from survey(asked))[settings.oscillator]
        sounding = {point.note for point in points if point.kept}
        silent = [note for note in notes if note not in sounding]
        if silent:
            names = ", ".join(note_name(note) for note in silent)
            yield Tell("left out", f"No reading at {names}: nothing can be said there.")
        if len(sounding) < 3:
            raise InputError(
                f"Only {len(sounding)} of {len(notes)} notes gave a reading",
                settings.oscillator,
                "Three are the least; check the sound, or choose a range where it plays",
            )
        u = max(point.u_cents for point in points if point.kept)
        if COVERAGE * u >= settings.tolerance_cents:
            raise InputError(
                f"±{settings.tolerance_cents:g} cents is less than the readings resolve"
                f" (±{COVERAGE * u:.2g} cents)",
                settings.oscillator,
                "Ask for a wider tolerance, or make the sound cleaner and the readings longer",
            )
        return points

    def _begin(self, points: tuple[Point, ...]) -> None:
        settings = self.settings
        kept = [point for point in points if point.kept]
        sounding = {point.note for point in kept}
        silent = set(settings.notes) - sounding
        listed = [note for note in settings.all_notes if note not in silent]
        notes = Notes.of(listed, settings.note_at_0_v, 440.0)
        target = np.array([settings.target.cents_at(note) for note in listed])
        self.target_u = np.array([settings.target.u_at(note) for note in listed])
        notes = replace(notes, tuned_hz=notes.tuned_hz * ratio_of_cents(target))
        index = {note: i for i, note in enumerate(listed)}
        belief = Belief.fresh(notes, settings.wander, kept[0].t_s)
        for point in kept:
            i = index[point.note]
            belief = belief.heard(
                i, cents_between(point.f_hz, float(notes.tuned_hz[i])), point.u_cents, point.t_s
            )
        self.belief = belief
        self.active = np.array([index[note] for note in listed if note in sounding])
        self.playing = index[kept[-1].note]
        for trimmer in settings.trimmers:
            self.acting[trimmer.name] = Acting.of(trimmer, self._zero_hz())

    def _zero_hz(self) -> float:
        """Frequency that 0 V plays now, by base and scale."""
        mean, notes = self.belief.mean, self.belief.notes
        cents = float(mean[BASE] - mean[SCALE] * notes.ref_v)
        tuned = float(notes.tuned_hz[0]) * 2.0 ** -float(notes.cv_v[0])
        return float(tuned * 2.0 ** (cents / 1200.0))

    def _curve(self) -> tuple[Array, Array]:
        """Errors that count, and their covariance, at the active notes."""
        curve, covariance = self.belief.curve()
        covariance = covariance + np.diag(self.target_u**2)
        if self.settings.own_middle:
            middle = int(np.abs(self.belief.notes.note - self.settings.middle).argmin())
            against = np.eye(len(curve))
            against[:, middle] -= 1.0
            curve, covariance = against @ curve, against @ covariance @ against.T
        active = self.active
        return curve[active], covariance[np.ix_(active, active)]

    def _levers(self) -> list[Lever]:
        """The trimmers that may be moved, with their shapes at the active notes."""
        levers = []
        middle = int(np.abs(self.belief.notes.note - self.settings.middle).argmin())
        for acting in self.acting.values():
            if acting.dead or not acting.trimmer.may_touch:
                continue
            lever = acting.lever(self.belief.notes)
            shape, u_shape = lever.shape, lever.u_shape
            if self.settings.own_middle:
                if acting.trimmer.trimmer_kind.is_base:
                    continue
                # Relative to middle C a scale trimmer acts alike wherever its pivot is.
                shape, u_shape = shape - shape[middle], 0.0
            levers.append(replace(lever, shape=shape[self.active], u_shape=u_shape))
        return levers

    def _plan(self) -> Planned:
        curve, covariance = self._curve()
        guard = _GUARD * np.minimum(np.sqrt(np.diag(covariance)), _FRESH_U_CENTS)
        cv_v = self.belief.notes.cv_v[self.active]
        scale = self._scale_pivot()
        turn_at = {}
        for name, acting in self.acting.items():
            pivot = acting.pivot if acting.trimmer.trimmer_kind.is_scale else scale
            at = turning_index(cv_v, pivot.pivot_v, pivot.weight)
            high = acting.trimmer.trimmer_kind is TrimmerKind.HIGH_END
            turn_at[name] = len(cv_v) - 1 if high else at
        return plan(
            curve, guard, self._levers(), self.settings.tolerance_cents, turn_at, self.in_hand
        )

    def _scale_pivot(self) -> PivotDensity:
        """The pivot of the scale trimmer that a hand is likeliest to be in."""
        for acting in self.acting.values():
            if acting.trimmer.trimmer_kind is TrimmerKind.SCALE:
                return acting.pivot
        return PivotDensity.at(0.0)

    def _doubtful(self, planned: Planned, curve: Array, covariance: Array) -> int | None:
        """The note whose re-reading may change the verdict; None where none can."""
        if self.rereads >= _MOST_REREADS:
            return None
        u = np.sqrt(np.diag(covariance))
        tolerance = self.settings.tolerance_cents
        margin = np.abs(curve) + COVERAGE * u - tolerance
        fresh = u <= 1.2 * u.min()
        open_to = (margin > 0.0) & ~fresh & (np.abs(curve) + COVERAGE * u.min() <= tolerance)
        if open_to.any():
            return int(self.active[int(np.where(open_to, margin, -np.inf).argmax())])
        spread, deciding = u_best(curve, covariance, list(planned.best_levers))
        if deciding and abs(planned.best_cents - tolerance) < 2.5 * spread and spread > 0.012:
            read_s = self.belief.read_s[self.active]
            return int(self.active[min(deciding, key=lambda i: float(read_s[i]))])
        return None

    def _exhausted(self, planned: Planned) -> bool:
        """Whether another visit is more than was agreed to."""
        assert planned.next is not None
        other = planned.next.lever.trimmer.name != self.in_hand
        return (other and self.visit >= self.settings.most_visits) or self.turns > 60

    # ------------------------------------------------------------------ reading

    def _read(self, index: int, why: str) -> Steps:
        """Play one note, read it, and take it into the belief."""
        note = float(self.belief.notes.note[index])
        heard = yield from self._listen(note, why)
        if heard is None:
            return
        at = self._cents(heard, index)
        expected, spread = self.belief.foresee([index], [heard.t_s])
        sigma = math.sqrt(float(spread[0, 0]) + heard.u_cents**2)
        off = at - float(expected[0])
        if np.isfinite(self.belief.read_s[index]) and abs(off) > max(7.0 * sigma, 1.2):
            yield Tell(
                Happened.BUMPED,
                f"{note_name(note)} has moved by {sentences.cents(off)} cents since it was last"
                " read, with nothing turned: a base knob may have been touched. It is allowed for.",
            )
            self.belief = self.belief.moved(scale=False)
        self.belief = self.belief.heard(index, at, heard.u_cents, heard.t_s)
        self.playing = index

    def _listen(self, note: float, why: str) -> Generator[Request, Answer, Heard | None]:
        settings = self.settings
        name = note_name(note)
        (heard,) = yield from listen(
            (settings.oscillator,), note, settings.note_at_0_v, settings.settle_s, f"{name} {why}."
        )
        if heard.f_hz is None:
            yield Tell("left out", f"{name} gives no pitch now; the tool goes on without it.")
            return None
        return heard

    def _cents(self, heard: Heard, index: int) -> float:
        assert heard.f_hz is not None
        return cents_between(heard.f_hz, float(self.belief.notes.tuned_hz[index]))

    # ------------------------------------------------------------------ turning

    def _turn(self, planned: Planned) -> Steps:
        """One turn of one trimmer, nudged into its window, and the notes that tell its effect."""
        assert planned.next is not None
        name = planned.next.lever.trimmer.name
        if self.in_hand and name != self.in_hand:
            yield from self._withdraw()
        index = int(self.active[planned.next.index])
        stale = self.belief.t_s - self.belief.read_s[index] > _FRESH_S
        if self.playing != index or stale:
            yield from self._read(index, f"before {name} is turned, because the aim starts from it")
            planned = self._plan()
            again = planned.next
            if again is None or again.lever.trimmer.name != name:
                return
            if int(self.active[again.index]) != index:
                return
        todo = planned.next
        assert todo is not None
        first = name != self.in_hand
        if first:
            self.in_hand, self.visit, self.turns = name, self.visit + 1, 0
            self.seen_in_visit = []
            self.acting[name] = replace(self.acting[name], visits=self.acting[name].visits + 1)
        acting = self.acting[name]
        kind = acting.trimmer.trimmer_kind
        before = self.belief
        start = float(before.curve()[0][index])
        # Where errors count from middle C the planner's shape is relative; the reading is not.
        shape = float(acting.lever(self.belief.notes).shape[index]) or 1e-9
        planned_shape = float(todo.lever.shape[todo.index]) or 1e-9
        shift, probe = todo.amount * shape, False
        window = todo.window_cents * min(max(abs(shape / planned_shape), 0.5), 2.0)
        doubt = acting.pivot.u_v * abs(todo.amount) if kind is TrimmerKind.SCALE else 0.0
        if doubt > 0.6:
            short = min(max(0.35 * abs(shift), _PROBE_CENTS[0]), _PROBE_CENTS[1])
            probe = short < 0.7 * abs(shift)
            shift = math.copysign(short, shift) if probe else shift
        last, turned = yield from self._into_window(
            index=index,
            todo=todo,
            start=start,
            shift=shift,
            probe=probe,
            first=first,
            shape=shape,
            window=window,
        )
        amount = shift / shape
        # What it did: the turning note, then the far note, the hand staying.
        after = self._cents(last.after, index)
        has_high = any(a.trimmer.trimmer_kind is TrimmerKind.HIGH_END for a in self.acting.values())
        three = has_high and (first or kind is TrimmerKind.HIGH_END)
        self.belief = before.at(last.after.t_s).moved(high=three)
        self.belief = self.belief.heard(index, after, last.after.u_cents, last.after.t_s)
        self.playing = index
        read = [(index, after, last.after.u_cents, last.after.t_s)]
        for other in self._far_notes(index, three):
            heard = yield from self._listen(
                float(self.belief.notes.note[other]),
                "with the screwdriver staying where it is, to see what the turn did there",
            )
            if heard is not None:
                self.playing = other
                at = self._cents(heard, other)
                self.belief = self.belief.heard(other, at, heard.u_cents, heard.t_s)
                read.append((other, at, heard.u_cents, heard.t_s))
        yield from self._weigh(before, read, acting, first, turned, last, amount, abs(shift))
        yield self._curve_report()

    def _into_window(
        self,
        *,
        index: int,
        todo: Next,
        start: float,
        shift: float,
        probe: bool,
        first: bool,
        shape: float,
        window: float,
    ) -> Generator[Request, Answer, tuple[TurnWatched, float | None]]:
        """Watch turns at one aim until one stops inside its window, or none will."""
        acting = self.acting[todo.lever.trimmer.name]
        trimmer = acting.trimmer
        notes = self.belief.notes
        note, cv_v = float(notes.note[index]), float(notes.cv_v[index])
        aim, here = start + shift, start
        window = max(1.5, 0.2 * abs(shift)) if probe else window
        greatest = self._greatest_after(todo.lever, shift / shape, list(todo.rest))
        reason = sentences.reason_of(trimmer, shift / shape, greatest, more=bool(todo.rest))
        turned: float | None = 0.0
        told_way = told_coarse = False
        still = 0
        tracks: list[Array] = []
        for nudge in range(_MOST_NUDGES + 1):
            self.turns += 1
            slack = max(3.0, 0.25 * abs(aim - here))
            wanted = (aim - here) / shape
            sense = acting.raises_clockwise
            clockwise = None if sense is None else (wanted > 0.0) == sense
            most = acting.most_turns(wanted)
            if most is None and probe:
                most = 1.0
            request = WatchTurn(
                oscillator=self.settings.oscillator,
                trimmer=trimmer.name,
                visit=self.visit,
                turn=self.turns,
                note=note,
                cv_v=cv_v,
                tuned_hz=float(notes.tuned_hz[index]),
                start_cents=here,
                aim_cents=aim,
                window_cents=window,
                low_cents=min(here, aim) - slack,
                high_cents=max(here, aim) + slack,
                most_turns=most,
                clockwise=clockwise,
                probe=probe,
                sentence=sentences.turn(
                    trimmer,
                    note,
                    here,
                    aim,
                    window,
                    clockwise,
                    probe=probe,
                    nudge=nudge > 0,
                    reason=reason,
                ),
                caution=sentences.CAUTION_INSIDE if trimmer.inside and first and not nudge else "",
            )
            got = expect((yield request), TurnWatched)
            self._check_turn(got, trimmer.name)
            track = np.array([point.cents for point in got.track])
            tracks.append(track)
            reached = self._cents(got.after, index)
            moved = reached - here
            turned = None if turned is None or got.turned is None else turned + got.turned
            if not told_way and abs(aim - here) > 1.0 and went_wrong_way(track, here, aim):
                told_way = True
                yield Tell(Happened.WRONG_WAY, sentences.happened(Happened.WRONG_WAY, trimmer))
            short = aim - reached
            here = reached
            if abs(short) <= window or got.ended is Ended.LIMIT or probe:
                break
            if nudge == 0 and got.ended is Ended.STILL and abs(reached - start) < 0.6:
                break  # nothing moved here: the far note tells why
            if got.ended is Ended.STILL and abs(short) > 1.0:
                still = still + 1 if abs(moved) < 0.6 else 1
                if still >= 2 and abs(reached - start) > 0.6:
                    self.still[trimmer.name] = int(np.sign(short / shape))
                    break
                continue
            gap = gap_about(tracks, aim)
            if gap is not None and not told_coarse and gap > 2.0 * window:
                told_coarse = True
                yield Tell(
                    Happened.TOO_COARSE,
                    sentences.happened(Happened.TOO_COARSE, trimmer, size_cents=gap),
                )
                coarse = replace(trimmer, resolution_cents=gap)
                trimmer = coarse
                acting = replace(acting, trimmer=coarse)
                self.acting[trimmer.name] = acting
                window = 0.5 * gap + 0.2
                if abs(short) <= window:
                    break
            if abs(short) < 0.1:
                break
        return got, turned

    def _check_turn(self, got: TurnWatched, name: str) -> None:
        heard = got.after
        if heard.f_hz is None or not 0.0 < heard.f_hz < 1e6 or not heard.u_cents > 0.0:
            raise InputError(
                f"After {name} was turned no pitch could be read",
                self.settings.oscillator,
                "Check that it still sounds, then go on from here",
            )
        if heard.t_s < self.belief.t_s - 1e-6:
            raise InputError(
                "A reading is older than the one before it", do="Go on from the events"
            )

    def _greatest_after(self, lever: Lever, amount: float, rest: list[Lever]) -> float:
        curve, _ = self._curve()
        return best_amounts(curve + amount * lever.shape, rest)[1]

    def _far_notes(self, index: int, three: bool) -> list[int]:
        """Notes to read after a turn at ``index``: the other end, and a middle one."""
        first, last = int(self.active[0]), int(self.active[-1])
        far = first if index == last else last
        if not three:
            return [far]
        cv_v = self.belief.notes.cv_v
        # Between a line and an exponential through the same ends the gap is widest about 3/5 up.
        middle = int(np.abs(cv_v - (cv_v[first] + 0.6 * (cv_v[last] - cv_v[first]))).argmin())
        return [far, middle]

    def _weigh(
        self,
        before: Belief,
        read: list[tuple[int, float, float, float]],
        acting: Acting,
        first: bool,
        turned: float | None,
        last: TurnWatched,
        asked_amount: float,
        asked_cents: float,
    ) -> Steps:
        """Say what the turn did, and learn from it."""
        trimmer = acting.trimmer
        acting = self.acting[trimmer.name]
        kind = acting.trimmer.trimmer_kind
        notes = before.notes
        index = [one[0] for one in read]
        expected, covariance = before.foresee(index, [one[3] for one in read])
        covariance = covariance + np.diag([one[2] ** 2 for one in read])
        at = np.array([one[1] for one in read])
        # The droop follows the frequency: that much of the shift is no trimmer's doing.
        hertz = -notes.tuned_hz[index] / 1000.0
        bent = before.droop_cents_per_khz * hertz * (ratio_of_cents(at) - ratio_of_cents(expected))
        shift = at - expected - bent
        track = np.array([point.cents for point in last.track])
        seen = Seen(
            cv_v=notes.cv_v[index],
            high=notes.high()[index],
            shift_cents=shift,
            covariance=covariance,
            jump_cents=jump_cents(track),
            first=first,
        )
        others = tuple(
            other.trimmer.trimmer_kind
            for name, other in self.acting.items()
            if name != trimmer.name
        )
        pivot = acting.pivot if kind.is_scale else self._scale_pivot()
        weighed = weigh(seen, kind, pivot, others)
        if not weighed.moved:
            if asked_cents > 1.5 and float(np.ptp(track)) < 1.0:
                yield from self._nothing_moved(acting, math.copysign(1.0, asked_amount))
            return
        if weighed.wrong is not None:
            other = self._one_of(weighed.wrong, trimmer.name)
            yield Tell(
                Happened.WRONG_TRIMMER,
                sentences.happened(Happened.WRONG_TRIMMER, trimmer, other),
            )
            if other in self.acting and weighed.wrong is TrimmerKind.SCALE:
                self.acting[other] = replace(self.acting[other], pivot=weighed.pivot)
            self.in_hand = ""
            self.still.pop(trimmer.name, None)
            return
        if kind.is_scale:
            acting = replace(acting, pivot=weighed.pivot)
        self.seen_in_visit.append(weighed)
        if bumped_meanwhile(acting.pivot, self.seen_in_visit) > 0.5:
            self.seen_in_visit = []
            yield Tell(Happened.BUMPED, sentences.happened(Happened.BUMPED, trimmer))
        self.still.pop(trimmer.name + "?", None)
        acting = acting.moved(_amount(kind, seen), turned)
        ended = self.still.pop(trimmer.name, 0)
        if ended:
            acting = acting.ended(ended)
            yield Tell(Happened.AT_END, sentences.happened(Happened.AT_END, trimmer))
        self.acting[trimmer.name] = acting

    def _nothing_moved(self, acting: Acting, sign: float) -> Steps:
        name = acting.trimmer.name
        self.still[name + "?"] = self.still.get(name + "?", 0) + 1
        twice = self.still[name + "?"] >= 2
        if twice and acting.acted:
            self.acting[name] = acting.ended(sign)
            yield Tell(Happened.AT_END, sentences.happened(Happened.AT_END, acting.trimmer))
            return
        self.acting[name] = replace(acting, dead=twice)
        yield Tell(
            Happened.NOTHING_MOVED, sentences.happened(Happened.NOTHING_MOVED, acting.trimmer)
        )

    def _one_of(self, kind: TrimmerKind, but: str) -> str:
        """The user's name for the trimmer of a kind that is likeliest meant."""
        for name, acting in self.acting.items():
            other = acting.trimmer.trimmer_kind
            if name != but and (other is kind or (other.is_base and kind.is_base)):
                return name
        return f"{kind} trimmer"

    def _withdraw(self) -> Steps:
        """The screwdriver comes out: hand on what was learned."""
        if self.in_hand and self.acting[self.in_hand].acted:
            known = self.acting[self.in_hand].known(self._zero_hz())
            yield Report(TrimmerLearned(self.settings.oscillator, self.in_hand, known))
        self.in_hand = ""

    # ------------------------------------------------------------------ results

    def _curve_report(self) -> Report:
        curve, covariance = self._curve()
        return Report(
            CurveKnown(
                self.settings.oscillator,
                tuple(float(n) for n in self.belief.notes.note[self.active]),
                tuple(float(c) for c in curve),
                tuple(float(u) for u in np.sqrt(np.diag(covariance))),
                self.visit,
            )
        )

    def _verdict(self, standing: Standing) -> Verdict:
        curve, covariance = self._curve()
        return conclude(
            standing,
            self.settings,
            self.belief,
            self.active,
            curve,
            covariance,
            self._levers(),
            list(self.acting.values()),
        )


def _amount(kind: TrimmerKind, seen: Seen) -> float:
    """How much the trimmer changed, in its own unit; a bump of base drops out where it can."""
    shift = seen.shift_cents
    if kind.is_base or len(shift) < 2:
        return float(shift.mean())
    ends = (0, 1)
    if kind.is_scale:
        return float((shift[ends[1]] - shift[ends[0]]) / (seen.cv_v[ends[1]] - seen.cv_v[ends[0]]))
    return -float((shift[ends[1]] - shift[ends[0]]) / (seen.high[ends[1]] - seen.high[ends[0]]))
