"""The hand goes: what it leaves behind is heard until it has died away, or is known well enough.

A reading with the screwdriver in is not yet what stays: the trimmer springs back, the hand's
capacitance goes at once and its warmth in a minute or two. So the hand is asked away before any
verdict; two notes (three where a trimmer bends the curve) are heard at once, and again until the
curve that will be left is known well enough to say whether it holds.
"""

from __future__ import annotations

import math
from collections.abc import Generator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pitchwright.procedures import sentences
from pitchwright.procedures.outcomes import TrimmerLearned
from pitchwright.procedures.requests import (
    HAND_AWAY,
    Answer,
    Ask,
    Choice,
    Chosen,
    Report,
    Request,
    Tell,
    Wait,
    Waited,
    expect,
)
from pitchwright.procedures.trimming.reading import ACCUSED_SIGMA, by_itself_cents, hear
from pitchwright.procedures.trimming.state import Trimming
from pitchwright.tracking.conformity import Conformity
from pitchwright.trim.after_hand import learned
from pitchwright.trim.belief import Belief
from pitchwright.trim.happened import Happened

__all__ = ["hand_away", "withdraw"]

Array = NDArray[np.float64]

_WAITS_S = (30.0, 30.0, 40.0, 60.0, 80.0)
_SETTLED_CENTS = 0.1
"""What is still to come of the warmth is not worth a word below this."""
_LEAST_HAND_U = 0.25
_LOG_WARM, _LOG_JUMPED, _LOG_SURE, _LOG_CLOSED = 2.0, 4.0, 2.0, 2.4
"""Odds against a hand that warmed much (7 : 1: most of what moves in half a minute moves by itself)
and against a jump (55 : 1), those at which one is said, and those at which warmth is no longer
waited for; all as logarithms."""
_JUMP_CENTS, _WARM_CENTS = 4.0, 1.2


def withdraw(state: Trimming) -> Generator[Request, Answer, None]:
    """The screwdriver comes out: hand on what was learned."""
    if not state.in_hand:
        return
    acting = state.acting[state.in_hand]
    if acting.acted:
        known = acting.known(state.zero_hz(), state.hand)
        yield Report(TrimmerLearned(state.settings.oscillator, state.in_hand, known))
    _let_go(state, hand=False)
    state.in_hand = ""


def hand_away(state: Trimming) -> Generator[Request, Answer, None]:
    """Ask screwdriver and hand away, and hear what stays."""
    name = state.in_hand or state.last_in_hand
    done = Choice("done", "Done")
    sentence = sentences.hand_away(name)
    expect((yield Ask(HAND_AWAY, sentence, (done,), done.key)), Chosen)
    held = state.belief
    _let_go(state, hand=True)
    state.in_hand = ""
    state.hand_near = False
    state.read_again.clear()
    settling = _Settling(state.belief, _WARM_CENTS)
    notes = _notes(state)
    yield from _hear(state, settling, notes, "with the hand gone, to hear what stays")
    at_once = _went(held, settling.cool.belief)
    for wait_s in _WAITS_S:
        left, u_left = state.belief.warm_cents
        told = sentences.wait(wait_s, left if abs(left) > max(u_left, _SETTLED_CENTS) else None)
        expect((yield Wait(state.belief.t_s + wait_s, told)), Waited)
        settling.waited()
        yield from _hear(state, settling, notes, "again, to hear whether it has settled")
        if settling.has_settled(state):
            break
    left, _ = state.belief.warm_cents
    if abs(left) > 3.0 * _SETTLED_CENTS:
        yield Tell("still settling", sentences.still_settling(left))
    if settling.likeliest is settling.jumped:
        minutes = (state.belief.t_s - held.t_s) / 60.0
        moved = float(np.abs(_went(held, state.belief)[0]).max())
        if moved > ACCUSED_SIGMA * by_itself_cents(minutes):
            yield Tell(Happened.BUMPED, sentences.jumped_alone())
    elif name:
        # What goes at once is told best at once, before base has walked; warmth only in the end.
        warm = settling.likeliest is settling.warm
        _learn(state, name, *(_went(held, state.belief) if warm else at_once), notes)
        known = state.acting[name].known(state.zero_hz(), state.hand)
        if state.acting[name].acted:
            yield Report(TrimmerLearned(state.settings.oscillator, name, known))


def _let_go(state: Trimming, *, hand: bool) -> None:
    """The belief as the screwdriver comes out of its trimmer and, with it or not, the hand goes."""
    sprung = np.zeros(state.belief.notes.count)
    if state.in_hand:
        acting = state.acting[state.in_hand]
        sprung = acting.springs.u * acting.lever(state.belief.notes).shape
    state.belief = state.belief.shifted(state.expected_after(hand=hand))
    u_hand = max(state.hand.u, _LEAST_HAND_U) if hand else 0.0
    state.belief = state.belief.let_go(sprung, u_hand)


def _notes(state: Trimming) -> list[int]:
    """The notes that tell what stays: both ends, and a middle one where the curve can bend."""
    first, last = int(state.active[0]), int(state.active[-1])
    ends = [last, first] if state.playing == last else [first, last]
    if any(a.trimmer.trimmer_kind.entry.bends for a in state.acting.values()):
        ends.append(int(state.active[round(0.6 * (len(state.active) - 1))]))
    return ends


@dataclass(slots=True)
class _Story:
    """One way to explain what is heard: a belief, and the log-odds for it."""

    belief: Belief
    log_odds: float

    def heard(self, index: int, cents: float, u_cents: float, t_s: float) -> None:
        foreseen, spread = self.belief.foresee([index], [t_s])
        variance = float(spread[0, 0]) + u_cents**2
        off = cents - float(foreseen[0])
        self.log_odds -= 0.5 * (off**2 / variance + math.log(variance))
        self.belief = self.belief.heard(index, cents, u_cents, t_s)


class _Settling:
    """What was heard since the hand went, explained in three ways.

    That it had warmed nothing, that it had warmed much, that base jumped while nobody was there.
    One filter with a wide guess would stay in doubt for minutes after a hand that warmed nothing;
    the readings soon tell which of the three is true.
    """

    def __init__(self, belief: Belief, u_warm_cents: float) -> None:
        self.cool = _Story(belief, 0.0)
        self.warm = _Story(belief.warmed(u_warm_cents), -_LOG_WARM)
        self.jumped: _Story | None = None
        self.waits = 0

    def waited(self) -> None:
        """Time has passed in which base may have jumped, once."""
        self.waits += 1
        if self.jumped is None:
            jumped = self.cool.belief.let_go(np.zeros(self.cool.belief.notes.count), _JUMP_CENTS)
            self.jumped = _Story(jumped, self.cool.log_odds - _LOG_JUMPED)

    def heard(self, index: int, cents: float, u_cents: float, t_s: float) -> None:
        """Take a reading into every story."""
        for story in self._stories:
            story.heard(index, cents, u_cents, t_s)

    @property
    def _stories(self) -> list[_Story]:
        return [s for s in (self.cool, self.warm, self.jumped) if s is not None]

    @property
    def likeliest(self) -> _Story:
        """The story that explains it best."""
        return max(self._stories, key=lambda story: story.log_odds)

    def has_settled(self, state: Trimming) -> bool:
        """Whether waiting longer would change nothing that is said."""
        best = self.likeliest
        if best is self.cool:
            told = self.cool.log_odds - self.warm.log_odds >= _LOG_CLOSED
            return told or self.waits > 1 or state.judged(self.warm.belief).inside
        if best is self.jumped:
            return best.log_odds - self.warm.log_odds > _LOG_SURE
        judged = state.judged(best.belief)
        left, u_left = best.belief.warm_cents
        return judged.standing is not Conformity.UNDECIDED or abs(left) + u_left < _SETTLED_CENTS


def _hear(
    state: Trimming, settling: _Settling, notes: list[int], why: str
) -> Generator[Request, Answer, None]:
    """Read the notes that tell what stays."""
    for index in notes:
        heard = yield from hear(state, index, why)
        if heard is None:
            continue
        u_cents = state.belief.u_reading(heard.u_cents)
        settling.heard(index, state.cents(heard, index), u_cents, heard.t_s)
        state.belief = settling.likeliest.belief
        state.playing = index


def _learn(state: Trimming, name: str, shift: Array, u: Array, notes: list[int]) -> None:
    """What the hand's going did to the notes teaches the next aim."""
    acting = state.acting[name]
    shape = acting.lever(state.belief.notes).shape[notes]
    way = state.way.get(name, 0.0)
    state.hand, springs = learned(state.hand, acting.springs, way, shape, shift[notes], u[notes])
    state.acting[name] = acting.sprung(springs)


def _went(held: Belief, now: Belief) -> tuple[Array, Array]:
    """How far each note went as the hand did, shape (n,), and the standard uncertainty."""
    cents, covariance = now.curve()
    walked = now.walk_cents**2 * max(now.t_s - held.t_s, 0.0) / 60.0
    return cents - held.at(now.t_s).curve()[0], np.sqrt(np.diag(covariance) + walked)
