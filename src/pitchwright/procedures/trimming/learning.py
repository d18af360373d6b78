"""Saying what a turn did, and learning from it how the trimmer acts."""

from __future__ import annotations

import math
from collections.abc import Generator
from dataclasses import dataclass, replace

import numpy as np

from pitchwright.procedures import sentences
from pitchwright.procedures.requests import Answer, Request, Tell
from pitchwright.procedures.trimming.into_window import Aim, Rested
from pitchwright.procedures.trimming.reading import CONTACT_JUMPS
from pitchwright.procedures.trimming.state import Trimming
from pitchwright.trim.acting import Acting
from pitchwright.trim.belief import Belief
from pitchwright.trim.happened import SURE_ODDS, Happened, Seen, Weighed, bumped_meanwhile, weigh
from pitchwright.trim.kinds import TrimmerKind
from pitchwright.trim.live_track import jump_cents
from pitchwright.units import ratio_of_cents

__all__ = ["Turned", "in_doubt", "learn"]

_SURE_AFTER_PROBE = 0.97
_FELT_TURNS = 0.1
"""Less than this is within the play of a screw."""
_WILD_SCATTER, _WILD_DRIFT, _WILD_SCALE = 0.4, 1.0, 0.2
"""Cents from time to time, cents a minute, cents per octave and minute: nobody is accused of what
a bad evening does by itself."""
_SURE, _OPEN = SURE_ODDS / (1.0 + SURE_ODDS), 0.25


@dataclass(frozen=True, slots=True)
class Turned:
    """One turn that came to rest.

    Attributes
    ----------
    name
        The trimmer that was asked for.
    before
        The belief before it.
    read
        Index, cents, standard uncertainty and time of each note read after it.
    rested
        What was seen of the turns at its aim.
    asked
        The aim.
    """

    name: str
    before: Belief
    read: tuple[tuple[int, float, float, float], ...]
    rested: Rested
    asked: Aim


def in_doubt(state: Trimming, turned: Turned) -> bool:
    """Whether the notes read so far leave open what was turned, so that more should be heard."""
    weighed = _weighed(state, turned, wild=True)
    if not weighed.moved:
        return False
    p_bumped = bumped_meanwhile(weighed.pivot, [*state.wild_in_visit, weighed])
    bump_open = not turned.asked.probe and _OPEN < p_bumped < _SURE
    return _OPEN < weighed.p_other < _SURE or bump_open


def _weighed(state: Trimming, turned: Turned, *, wild: bool = False) -> Weighed:
    """The stories weighed; ``wild`` as if it scattered and drifted as on a bad evening."""
    acting = state.acting[turned.name]
    kind = acting.trimmer.trimmer_kind
    others = tuple(
        other.trimmer.trimmer_kind for name, other in state.acting.items() if name != turned.name
    )
    pivot = acting.pivot if kind.has_pivot else state.scale_pivot()
    return weigh(_seen(turned, wild=wild), kind, pivot, others)


def learn(state: Trimming, turned: Turned) -> Generator[Request, Answer, None]:
    """Weigh the stories about a turn, say the likeliest, keep what it teaches."""
    acting = state.acting[turned.name]
    trimmer, kind = acting.trimmer, acting.trimmer.trimmer_kind
    seen = _seen(turned, wild=False)
    weighed, wild = _weighed(state, turned), _weighed(state, turned, wild=True)
    if not weighed.moved:
        track = np.array([point.cents for point in turned.rested.last.track])
        felt = turned.rested.turned
        still = not len(track) or float(np.ptp(track)) < 1.0
        still = still and (felt is None or abs(felt) > _FELT_TURNS)
        if still and abs(turned.asked.shift_cents) > 1.5:
            yield from _nothing_moved(state, acting, math.copysign(1.0, turned.asked.amount))
        return
    steady = not state.rest_jumps[turned.name]
    if steady and weighed.wrong is not None and wild.wrong == weighed.wrong:
        yield from _wrong_trimmer(state, turned.name, weighed.wrong, weighed)
        return
    if max(weighed.p_other, wild.p_other) > _OPEN:
        return  # nobody is accused, and nothing is learned of a trimmer that may not have turned
    if turned.rested.wrong_way:
        yield Tell(Happened.WRONG_WAY, sentences.happened(Happened.WRONG_WAY, trimmer))
    if kind.has_pivot:
        acting = replace(acting, pivot=weighed.pivot)
    state.seen_in_visit.append(weighed)
    state.wild_in_visit.append(wild)
    # After a probe alone a bump may still be a pivot: the next turn of this visit will tell.
    sure = _SURE_AFTER_PROBE if turned.asked.probe else _SURE
    bumped = bumped_meanwhile(acting.pivot, state.seen_in_visit)
    bumped = min(bumped, bumped_meanwhile(wild.pivot, state.wild_in_visit))
    if bumped * (1.0 - max(weighed.p_other, wild.p_other)) > sure:
        state.seen_in_visit, state.wild_in_visit = [], []
        if len(state.rest_jumps[trimmer.name]) < CONTACT_JUMPS:
            yield Tell(Happened.BUMPED, sentences.happened(Happened.BUMPED, trimmer))
    state.still.pop(trimmer.name + "?", None)
    acting = acting.moved(_amount(kind, seen), turned.rested.turned)
    ended = state.still.pop(trimmer.name, 0)
    if ended:
        acting = acting.ended(ended)
        yield Tell(Happened.AT_END, sentences.happened(Happened.AT_END, trimmer))
    state.acting[trimmer.name] = acting


def _seen(turned: Turned, *, wild: bool) -> Seen:
    """Shifts of the notes read after a turn, against what no turn would have given."""
    before, read = turned.before, turned.read
    notes = before.notes
    index = [one[0] for one in read]
    expected, covariance = before.foresee(index, [one[3] for one in read])
    covariance = covariance + np.diag([one[2] ** 2 for one in read])
    if wild:
        minutes = np.array([max(one[3] - before.t_s, 0.0) for one in read]) / 60.0
        far = (notes.cv_v[index] - notes.ref_v) * minutes
        covariance = covariance + _WILD_SCATTER**2 * np.eye(len(read))
        covariance += _WILD_DRIFT**2 * np.outer(minutes, minutes)
        covariance += _WILD_SCALE**2 * np.outer(far, far)
    at = np.array([one[1] for one in read])
    # The droop follows the frequency: that much of the shift is no trimmer's doing.
    hertz = -notes.tuned_hz[index] / 1000.0
    bent = before.droop_cents_per_khz * hertz * (ratio_of_cents(at) - ratio_of_cents(expected))
    return Seen(
        cv_v=notes.cv_v[index],
        high=notes.high()[index],
        shift_cents=at - expected - bent,
        covariance=covariance,
        jump_cents=jump_cents(np.array([point.cents for point in turned.rested.last.track])),
        first=turned.asked.first,
    )


def _wrong_trimmer(
    state: Trimming, name: str, wrong: TrimmerKind, weighed: Weighed
) -> Generator[Request, Answer, None]:
    trimmer, other = state.acting[name].trimmer, _one_of(state, wrong, name)
    yield Tell(Happened.WRONG_TRIMMER, sentences.happened(Happened.WRONG_TRIMMER, trimmer, other))
    if other in state.acting and wrong.has_pivot and wrong.entry.pivot_v is None:
        state.acting[other] = replace(state.acting[other], pivot=weighed.pivot)
    state.in_hand = ""
    state.still.pop(name, None)


def _nothing_moved(
    state: Trimming, acting: Acting, sign: float
) -> Generator[Request, Answer, None]:
    name = acting.trimmer.name
    state.still[name + "?"] = state.still.get(name + "?", 0) + 1
    twice = state.still[name + "?"] >= 2
    if twice and acting.acted:
        state.acting[name] = acting.ended(sign)
        yield Tell(Happened.AT_END, sentences.happened(Happened.AT_END, acting.trimmer))
        return
    state.acting[name] = replace(acting, dead=twice)
    yield Tell(Happened.NOTHING_MOVED, sentences.happened(Happened.NOTHING_MOVED, acting.trimmer))


def _one_of(state: Trimming, kind: TrimmerKind, but: str) -> str:
    """The user's name for the trimmer of a kind that is likeliest meant."""
    for name, acting in state.acting.items():
        other = acting.trimmer.trimmer_kind
        if name != but and other.acts_like(kind):
            return name
    return f"{kind} trimmer"


def _amount(kind: TrimmerKind, seen: Seen) -> float:
    """How much the trimmer changed, in its own unit; a bump of base drops out where it can."""
    shift = seen.shift_cents
    if kind.is_base or len(shift) < 2:
        return float(shift.mean())
    # Where there is a pivot it drops out of the difference too.
    shape = kind.entry.shape(seen.cv_v, -seen.high, np.array(kind.entry.pivot_v or 0.0))
    return float((shift[1] - shift[0]) / (shape[1] - shape[0]))
