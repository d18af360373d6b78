"""Guided trimming: from as found to as left in as few visits as can be.

Theory of operation
-------------------
State. A survey gives a belief about the curve: base, scale, high end, drift and each note's own
source error (``trim.belief``). A turn is taken as an unknown change of base and scale (and of the
high end where there is such a trimmer); two notes (three) read after it bring the whole curve
back. So old readings stay valid, and a wrong trimmer, a bumped knob or backlash is absorbed.

Each round does one of four things, chosen anew from the belief alone:

- *the hand goes*: the aim is met as far as a reading with the screwdriver in can tell; what stays
  is heard before anything is said (``trimming.hand_away``), and what the hand and the trimmer did
  is learned for the next aim;
- *verdict*: every note is inside the tolerance, guard band included, no hand is near, and no old
  reading near its edge could still speak against it; or nothing that may be turned gains anything
  worth it, and reading every note anew does not change that;
- *read* one note again: where only uncertainty, not error, stands in the way;
- *turn* a trimmer: the first of the fewest visits to expect that bring the curve inside
  (``trim.plan``), in the order high end, scale, base. The trimmer that the screwdriver is in
  costs next to nothing, so a visit goes on (probe, exact aim, nudges, readings while the hand
  stays) until another trimmer or a verdict is due.

A turn. The turning note is read afresh and the plan made again; the aim is its reading plus what
the move must shift there. Where the pivot is not known well enough, the first turn is a short
probe. A stop outside the window is nudged at the same aim, without other notes played; once inside
(or at a limit) the far note is played, the hand staying where it is. What drifted while the
screwdriver went in is told from the first live readings, so that it is not taken for the turn's
doing. Then what happened is weighed (``trim.happened``), said where it is 20 : 1 against drift and
scatter, and the pivot and effect are learned; a bump that one turn cannot tell from a pivot is told
by the next turn of the visit.

Nothing here reads a clock or touches the world: times come with the answers, so the same answers
give the same state, and a procedure that was interrupted goes on from its events (``events``).

The parts are in ``trimming``: what is known (``state``), reading, another note than the one asked
for, turning, into the window, learning, the hand's going.
"""

from __future__ import annotations

import math
from collections.abc import Generator
from dataclasses import dataclass, replace

import numpy as np

from pitchwright.errors import InputError
from pitchwright.procedures import sentences
from pitchwright.procedures.outcomes import VerdictGiven
from pitchwright.procedures.requests import Answer, Report, Request, Tell
from pitchwright.procedures.settings import TrimSettings
from pitchwright.procedures.survey import survey
from pitchwright.procedures.trimming import Trimming, hand_away, hear, read_note, turn, withdraw
from pitchwright.procedures.trimming.other_note import survey_again
from pitchwright.tracking.conformity import Conformity, stands
from pitchwright.tracking.coverage import expanded_u
from pitchwright.tracking.point import Point
from pitchwright.trim.trimmer import Known
from pitchwright.trim.verdict import Standing, Verdict, u_best
from pitchwright.units import note_name

__all__ = ["TrimResult", "guided_trim"]

_MOST_ROUNDS = 80
_MOST_ODD, _MOST_AFRESH = 3, 2


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


def guided_trim(settings: TrimSettings) -> Generator[Request, Answer, TrimResult]:
    """Take one oscillator from as found to as left.

    Raises
    ------
    InputError
        Where nothing sounds in the range, the readings cannot resolve the tolerance, or an answer
        contradicts the request. The events up to there stay good: it can be gone on from.
    """
    points = yield from _as_found(settings)
    state = Trimming.from_survey(settings, points)
    yield from _odd_again(state)
    yield state.curve_report()
    verdict = yield from _rounds(state)
    if settings.wider is not None and verdict.standing is Standing.IN_TUNE:
        verdict = yield from _extended(state, settings.wider)
    yield from withdraw(state)
    yield state.curve_report()
    yield Report(VerdictGiven(settings.oscillator, verdict))
    known = {
        name: acting.known(state.zero_hz(), state.hand)
        for name, acting in state.acting.items()
        if acting.acted
    }
    return TrimResult(verdict, points, state.visit, known)


def _as_found(settings: TrimSettings) -> Generator[Request, Answer, tuple[Point, ...]]:
    """Survey the range, and refuse what cannot be trimmed by such readings."""
    notes = settings.notes
    points = (yield from survey(settings.as_found))[settings.oscillator]
    points = yield from survey_again(
        settings.oscillator, points, settings.note_at_0_v, settings.settle_s
    )
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
    resolved = expanded_u(math.hypot(u, settings.common.u_cents))
    if stands(0.0, resolved, settings.tolerance_cents) is not Conformity.INSIDE:
        raise InputError(
            f"±{settings.tolerance_cents:g} cents is less than the readings resolve"
            f" (±{resolved:.2g} cents)",
            settings.oscillator,
            "Ask for a wider tolerance, or make the sound cleaner and the readings longer",
        )
    return points


def _odd_again(state: Trimming) -> Generator[Request, Answer, None]:
    """Read once more what stands out of the survey: a jump there would mislead all that follows."""
    odd = state.belief.odd_notes()
    if state.jumped or len(odd) > _MOST_ODD:  # a jump in mid-survey sets all notes after it apart
        yield from _afresh(state, "again, because the notes do not fit together")
        return
    for index in odd:
        state.belief = state.belief.forgotten(index)
        yield from read_note(state, index, "again, because it stands out")


def _afresh(state: Trimming, why: str) -> Generator[Request, Answer, None]:
    """Read every note anew, and believe nothing that was heard of them before."""
    state.surveyed_afresh += 1
    heard = []
    for index in map(int, state.active):
        one = yield from hear(state, index, why)
        if one is not None:
            heard.append((index, one))
            state.playing = index
    state.belief = state.belief.afresh()
    for index, one in heard:
        u_cents = state.belief.u_reading(one.u_cents)
        state.belief = state.belief.heard(index, state.cents(one, index), u_cents, one.t_s)


def _rounds(state: Trimming) -> Generator[Request, Answer, Verdict]:
    """Choose and act until there is a verdict."""
    for _ in range(_MOST_ROUNDS):
        if state.astray and state.surveyed_afresh < 2 * _MOST_AFRESH:
            state.astray = 0
            yield from _afresh(state, "again, because the notes do not fit together")
        if state.judged().inside:
            if state.hand_near:
                yield from hand_away(state)
                yield state.curve_report()
                continue
            unsure = state.unsure()
            if unsure is None:
                return state.verdict(Standing.IN_TUNE)
            yield from _read_again(state, unsure)
            continue
        planned = state.plan()
        doubtful = state.doubtful(planned)
        if doubtful is not None and not state.hand_near and state.visit:
            yield from _read_again(state, doubtful)
        elif planned.next is not None and not state.exhausted(planned):
            yield from turn(state, planned)
        elif state.hand_near:
            yield from hand_away(state)
            yield state.curve_report()
        elif state.surveyed_afresh < _MOST_AFRESH:
            # “Cannot” needs readings that show it, not a jump that was believed.
            yield from _afresh(state, "again, before it is said that it cannot be done")
            yield state.curve_report()
        elif planned.next is not None:
            state.exhausted_visits = True
            break
        elif doubtful is not None:
            yield from _read_again(state, doubtful)
        else:
            break
    if state.exhausted_visits:
        yield Tell("does not converge", sentences.does_not_converge(state.visit))
    return state.verdict(Standing.CANNOT if _proven(state) else Standing.NOT_CERTIFIABLE)


def _proven(state: Trimming) -> bool:
    """Whether the readings and the bounds of the trimmers show that it cannot be done."""
    curve, covariance = state.curve()
    planned = state.plan()
    common = state.settings.common.u_cents
    spread, _ = u_best(curve, covariance + common**2, list(planned.best_levers))
    stood = stands(planned.best_cents, expanded_u(spread), state.settings.tolerance_cents)
    return stood is Conformity.OUTSIDE


def _read_again(state: Trimming, index: int) -> Generator[Request, Answer, None]:
    """Read a note afresh that the verdict hangs on."""
    state.rereads += 1
    state.read_again[index] += 1
    yield from read_note(state, index, "again, because its reading decides the verdict")


def _extended(state: Trimming, wider: tuple[float, float]) -> Generator[Request, Answer, Verdict]:
    """Try the wider range; fall back on the first where it does not hold."""
    yield Tell(
        "extend the reach",
        f"The range holds; now {note_name(wider[0])} to {note_name(wider[1])} is tried.",
    )
    narrow = state.active
    for index in range(state.belief.notes.count):
        if index not in narrow:
            yield from read_note(state, index, "to see whether the reach extends to it")
    state.active = np.flatnonzero(np.isfinite(state.belief.read_s))
    if state.plan().fits:
        wide = yield from _rounds(state)
        if wide.standing is Standing.IN_TUNE:
            return wide
    wide = state.verdict(Standing.NOT_CERTIFIABLE)
    state.active = narrow
    again = yield from _rounds(state)
    return replace(again, wider_run=wide.narrower)
