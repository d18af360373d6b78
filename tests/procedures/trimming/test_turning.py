from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from pitchwright.procedures.requests import PlayNote, WatchTurn
from pitchwright.procedures.trimming.turning import turn
from pitchwright.trim import Trimmer, TrimmerKind
from pitchwright.trim.after_hand import Guess


def true_curve(line: Any, state: Any) -> Any:
    return np.array([line.cents(float(note)) for note in state.belief.notes.note])


def test_the_far_note_brings_back_every_other(line: Any, make_state: Any) -> None:
    state = make_state(line)
    begun = len(line.asked)
    line.run(turn(state, state.plan()))
    played = [one.note for one in line.asked[begun:] if isinstance(one, PlayNote)]
    assert played[-1] == 24.0
    assert len(set(played)) <= 2
    assert np.abs(state.belief.curve()[0] - true_curve(line, state)).max() < 0.1
    assert state.visit == 1
    assert state.in_hand == "scale"


def test_a_trimmer_that_bends_the_curve_asks_for_a_third_note(line: Any, make_state: Any) -> None:
    trimmers = (
        Trimmer("base", TrimmerKind.BASE_FINE),
        Trimmer("scale", TrimmerKind.SCALE),
        Trimmer("high", TrimmerKind.HIGH_END),
    )
    state = make_state(line, trimmers=trimmers)
    begun = len(line.asked)
    line.run(turn(state, state.plan()))
    played = {one.note for one in line.asked[begun:] if isinstance(one, PlayNote)}
    assert {24.0, 60.0} <= played


@pytest.mark.parametrize("known", [True, False])
def test_a_probe_comes_first_only_where_the_pivot_is_not_known(
    line: Any, make_state: Any, known: bool
) -> None:
    state = make_state(line, known=known)
    line.run(turn(state, state.plan()))
    assert line.of(WatchTurn)[0].probe is not known


def test_the_last_aim_allows_for_what_the_hand_takes_back(line: Any, make_state: Any) -> None:
    """The hand's going lowers every note by 0.7: so much sharper it has to stand."""
    aims = []
    for hand in (Guess(0.0, 0.1), Guess(-0.7, 0.1)):
        fresh = replace(line, scale=0.0, asked=[])
        state = make_state(fresh)
        state.hand = hand
        state.acting["base"] = state.acting["base"].sprung(Guess(0.0, 0.1))
        fresh.run(turn(state, state.plan()))
        (request,) = fresh.of(WatchTurn)
        assert request.trimmer == "base"
        aims.append(request.aim_cents)
    assert aims[1] - aims[0] == pytest.approx(0.7, abs=0.05)


def test_a_trimmer_that_springs_back_is_turned_so_much_further(line: Any, make_state: Any) -> None:
    aims = []
    for springs in (0.0, 0.4):
        fresh = replace(line, scale=0.0, asked=[])
        state = make_state(fresh)
        state.acting["base"] = state.acting["base"].sprung(Guess(springs, 0.1))
        fresh.run(turn(state, state.plan()))
        aims.append(fresh.of(WatchTurn)[0].aim_cents)
    # It was 6 cents sharp and goes down: 0.4 lower, and springs back up.
    assert aims[1] - aims[0] == pytest.approx(-0.4, abs=0.05)
