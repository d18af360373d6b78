from typing import Any

import numpy as np
import pytest

from pitchwright.procedures.requests import Ended, Heard, TrackPoint, TurnWatched
from pitchwright.procedures.trimming.into_window import Aim, Rested
from pitchwright.procedures.trimming.learning import Turned, in_doubt, learn
from pitchwright.trim.happened import Happened


def turned(
    state: Any, name: str, shifts: dict[int, float], *, first: bool = True, turns: float = 0.5
) -> Turned:
    """A turn after which the notes at these places had moved by so much."""
    before = state.belief
    at_s = before.t_s + 20.0
    todo = state.plan().next
    cents, _ = before.foresee(list(shifts), [at_s] * len(shifts))
    read = tuple(
        (index, float(c) + shift, 0.05, at_s)
        for (index, shift), c in zip(shifts.items(), cents, strict=True)
    )
    track = tuple(TrackPoint(at_s + 0.1 * k, float(c)) for k, c in enumerate(np.zeros(12)))
    seen = TurnWatched(Ended.INSIDE, Heard("x", at_s, 440.0, 0.03), track, turns)
    shape = float(state.acting[name].lever(before.notes).shape[next(iter(shifts))])
    asked = Aim(todo, next(iter(shifts)), 0.0, -10.0, shape, 0.3, False, first)
    state.in_hand = name
    return Turned(name, before, read, Rested(seen, seen, turns), asked)


def test_a_turn_as_asked_teaches_amount_and_effect(line: Any, make_state: Any) -> None:
    state = make_state(line)
    line.run(learn(state, turned(state, "scale", {10: -10.0, 0: 0.0})))
    scale = state.acting["scale"]
    assert line.told() == []
    assert scale.amount == pytest.approx(-2.0, abs=0.05)  # 10 cents over 5 octaves
    assert scale.effect_per_turn == pytest.approx(-4.0, abs=0.1)
    assert scale.raises_clockwise is False
    assert scale.acted


@pytest.mark.parametrize("first", [True, False])
def test_another_trimmer_is_told_on_any_turn_of_a_visit(
    line: Any, make_state: Any, first: bool
) -> None:
    state = make_state(line)
    line.run(learn(state, turned(state, "scale", {10: -20.0, 0: -20.0}, first=first)))
    assert line.told() == [Happened.WRONG_TRIMMER]
    assert state.in_hand == ""
    assert not state.acting["scale"].acted


def test_nobody_is_accused_of_what_a_bad_evening_does(line: Any, make_state: Any) -> None:
    """A base turn of 1.6 cents whose far note is 0.5 off: scatter of a bad evening explains it."""
    state = make_state(line)
    line.run(learn(state, turned(state, "base", {10: -1.6, 0: -1.1})))
    assert line.told() == []


def test_what_is_open_asks_for_another_note(line: Any, make_state: Any) -> None:
    """Both ends moved nearly alike: a scale trimmer of a far pivot, or the base trimmer."""
    state = make_state(line, known=False)
    assert not in_doubt(state, turned(state, "scale", {10: -15.0, 0: 0.0}))
    assert in_doubt(state, turned(state, "scale", {10: -15.0, 0: -13.0}))


def test_nothing_moved_twice_is_dead_where_it_never_acted_and_an_end_where_it_did(
    line: Any, make_state: Any
) -> None:
    state = make_state(line)
    for _ in range(2):
        line.run(learn(state, turned(state, "scale", {10: 0.0, 0: 0.0})))
    assert line.told() == [Happened.NOTHING_MOVED, Happened.NOTHING_MOVED]
    assert state.acting["scale"].dead
    line.run(learn(state, turned(state, "base", {10: -5.0, 0: -5.0})))
    for _ in range(2):
        line.run(learn(state, turned(state, "base", {10: 0.0, 0: 0.0})))
    assert line.told()[-1] == Happened.AT_END
    assert not state.acting["base"].dead


def test_a_turn_within_the_play_of_the_screw_is_not_told(line: Any, make_state: Any) -> None:
    state = make_state(line)
    line.run(learn(state, turned(state, "base", {10: 0.0, 0: 0.0}, turns=0.03)))
    assert line.told() == []
