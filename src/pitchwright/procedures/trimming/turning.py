"""One turn of one trimmer, and the notes that tell what it did."""

from __future__ import annotations

import math
from collections.abc import Generator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pitchwright.procedures.requests import Answer, Ended, Request
from pitchwright.procedures.trimming.hand_away import withdraw
from pitchwright.procedures.trimming.into_window import Aim, into_window
from pitchwright.procedures.trimming.learning import Turned, in_doubt, learn
from pitchwright.procedures.trimming.reading import hear, read_note
from pitchwright.procedures.trimming.state import Stood, Trimming
from pitchwright.trim.acting import Acting
from pitchwright.trim.after_hand import last_way
from pitchwright.trim.belief import Belief
from pitchwright.trim.kinds import in_proportion
from pitchwright.trim.plan import Next, Planned

__all__ = ["turn"]

Array = NDArray[np.float64]

_PROBE_CENTS = (5.0, 15.0)
_PROBE_FROM_CENTS = 0.6
"""A probe comes first where the pivot's doubt moves the curve by more than this."""
_FRESH_S = 4.0
_LEAST_ARM = 0.2


def turn(state: Trimming, planned: Planned) -> Generator[Request, Answer, None]:
    """Turn one trimmer into its window, then read the notes that tell its effect."""
    assert planned.next is not None
    name = planned.next.lever.trimmer.name
    if state.in_hand and name != state.in_hand:
        yield from withdraw(state)
    index = int(state.active[planned.next.index])
    stale = state.belief.t_s - state.belief.read_s[index] > _FRESH_S
    todo = planned.next
    if state.playing != index or stale:
        why = f"before {name} is turned, because the aim starts from it"
        yield from read_note(state, index, why)
        again = state.plan().next
        if again is None or again.lever.trimmer.name != name:
            return
        if int(state.active[again.index]) != index:
            return
        todo = again
    first = name != state.in_hand
    if first:
        _put_in(state, name)
    asked = _aim(state, todo, index, first=first)
    before = state.belief
    rested = yield from into_window(state, asked)
    last = rested.last
    before = _as_it_began(before, index, state.stood(index, rested.first))
    state.read_again.clear()
    # What it did: the turning note, then the far note, the hand staying.
    after = state.cents(last.after, index)
    track = np.array([point.cents for point in last.track])
    way = last_way(track, asked.start_cents) * np.sign(asked.shape)
    state.way[name] = float(way) or state.way.get(name, 0.0)
    acting, kind = state.acting[name], todo.lever.trimmer.trimmer_kind
    bending = [a for a in state.acting.values() if a.trimmer.trimmer_kind.entry.bends]
    # A third note as long as it has not shown in this visit that it is the trimmer asked for.
    odd = last.ended in (Ended.STILL, Ended.LIMIT) or not state.seen_in_visit
    three = bool(bending) and (first or odd or kind.entry.bends)
    state.belief = before.at(last.after.t_s)
    if three:
        high = any(a.trimmer.trimmer_kind.entry.shape is in_proportion for a in bending)
        state.belief = state.belief.moved(high=high, bent=_bent(state, bending))
    else:
        state.belief = state.belief.moved()
    u_after = state.belief.u_reading(last.after.u_cents)
    state.belief = state.belief.heard(index, after, u_after, last.after.t_s)
    state.playing = index
    read = [(index, after, u_after, last.after.t_s)]
    for other in _far_notes(state, index, three=three):
        far = _far_cents(before, acting, index, other, after, last.after.t_s)
        why = "with the screwdriver staying where it is, to see what the turn did there"
        heard = yield from hear(state, other, why, far)
        if heard is not None:
            state.playing = other
            at, u_cents = state.cents(heard, other), state.belief.u_reading(heard.u_cents)
            state.belief = state.belief.heard(other, at, u_cents, heard.t_s)
            read.append((other, at, u_cents, heard.t_s))
    turned = Turned(name, before, tuple(read), rested, asked)
    if in_doubt(state, turned):
        read += yield from _more(state, index, {one[0] for one in read})
        turned = replace(turned, read=tuple(read))
    yield from learn(state, turned)
    yield state.curve_report()


def _as_it_began(before: Belief, index: int, stood: Stood | None) -> Belief:
    """The belief as the hand began to turn: what drifted until then is none of the turn's doing."""
    if stood is None:
        return before
    before = before.surprised(stood.off_cents, stood.u_off_cents)
    return before.heard(index, stood.cents, stood.u_cents, stood.t_s)


def _put_in(state: Trimming, name: str) -> None:
    """A visit begins."""
    state.in_hand, state.visit, state.turns = name, state.visit + 1, 0
    state.last_in_hand, state.hand_near = name, True
    state.belief = state.belief.taken_up()
    state.seen_in_visit, state.wild_in_visit = [], []
    state.acting[name] = replace(state.acting[name], visits=state.acting[name].visits + 1)


def _aim(state: Trimming, todo: Next, index: int, *, first: bool) -> Aim:
    """The aim at the turning note; only a short way there while the pivot is in doubt."""
    acting = state.acting[todo.lever.trimmer.name]
    # Where errors count from middle C the planner's shape is relative; the reading is not.
    shape = float(acting.lever(state.belief.notes).shape[index]) or 1e-9
    planned_shape = float(todo.lever.shape[todo.index]) or 1e-9
    shift, probe = todo.amount * shape, False
    window = todo.window_cents * min(max(abs(shape / planned_shape), 0.5), 2.0)
    doubt = acting.pivot.u_v * abs(todo.amount)
    if doubt > _PROBE_FROM_CENTS:
        short = min(max(0.35 * abs(shift), _PROBE_CENTS[0]), _PROBE_CENTS[1])
        probe = short < 0.7 * abs(shift)
        if probe:
            shift = math.copysign(short, shift)
            window = max(1.5, 0.2 * abs(shift))
    start = float(state.belief.curve()[0][index])
    beyond = 0.0
    if first and not todo.rest and not probe:
        # It stands where it is to stay only once the hand has gone: so much beyond.
        way = math.copysign(1.0, todo.amount)
        beyond = way * acting.springs.mean * shape - state.hand.mean
    return Aim(todo, index, start, shift + beyond, shape, window, probe, first, beyond)


def _more(
    state: Trimming, index: int, heard_already: set[int]
) -> Generator[Request, Answer, list[tuple[int, float, float, float]]]:
    """Read a note in the middle, then the turning note again, before anybody is accused."""
    cv_v = state.belief.notes.cv_v
    inner = [int(k) for k in state.active if int(k) not in heard_already]
    middle = min(
        inner, key=lambda k: abs(float(cv_v[k] - cv_v[state.active].mean())), default=index
    )
    read = []
    for other in (middle, index):
        heard = yield from hear(state, other, "too, to tell what was turned")
        if heard is not None:
            at, u_cents = state.cents(heard, other), state.belief.u_reading(heard.u_cents)
            state.belief = state.belief.heard(other, at, u_cents, heard.t_s)
            state.playing = other
            read.append((other, at, u_cents, heard.t_s))
    return read


def _far_cents(
    before: Belief, acting: Acting, index: int, other: int, after: float, t_s: float
) -> float:
    """Where another note should lie once the trimmer has brought the turning note to ``after``."""
    cents, _ = before.foresee([index, other], [t_s, t_s])
    shape = acting.lever(before.notes).shape
    moves = float(shape[other] / shape[index]) if abs(shape[index]) > _LEAST_ARM else 0.0
    return float(cents[1] + moves * (after - cents[0]))


def _bent(state: Trimming, bending: list[Acting]) -> tuple[tuple[Array, float], ...]:
    """Shapes that bend the curve otherwise than the high end, and how far a move may go."""
    kinds = {acting.trimmer.trimmer_kind: acting for acting in bending}
    return tuple(
        (acting.lever(state.belief.notes).shape, kind.entry.prior)
        for kind, acting in kinds.items()
        if kind.entry.shape is not in_proportion
    )


def _far_notes(state: Trimming, index: int, *, three: bool) -> list[int]:
    """Notes to read after a turn at ``index``: the other end, and a middle one."""
    first, last = int(state.active[0]), int(state.active[-1])
    far = first if index == last else last
    if not three:
        return [far]
    cv_v = state.belief.notes.cv_v
    # Between a line and an exponential through the same ends the gap is widest about 3/5 up.
    middle = int(np.abs(cv_v - (cv_v[first] + 0.6 * (cv_v[last] - cv_v[first]))).argmin())
    return [far, middle]
