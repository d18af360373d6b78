from typing import Any

import numpy as np
import pytest

from pitchwright.errors import InputError
from pitchwright.procedures.requests import Ended, Heard, TurnWatched, WatchTurn
from pitchwright.procedures.trimming.into_window import Aim, into_window


def aim_of(state: Any, name: str = "base", **changed: Any) -> Aim:
    """An aim at the top note: base by so much that the shift is −8 cents."""
    planned = state.plan()
    todo = planned.next
    assert todo is not None
    lever = state.acting[name].lever(state.belief.notes)
    index = int(state.active[-1])
    start = float(state.belief.curve()[0][index])
    asked: dict[str, Any] = {
        "todo": type(todo)(lever, -1.0, len(state.active) - 1, -8.0, 0.3, changed.pop("rest", ())),
        "index": index,
        "start_cents": start,
        "shift_cents": -8.0,
        "shape": float(lever.shape[index]),
        "window_cents": 0.3,
        "probe": False,
        "first": True,
    }
    return Aim(**{**asked, **changed})


def test_one_turn_that_stops_inside_is_enough(line: Any, make_state: Any) -> None:
    state = make_state(line)
    rested = line.run(into_window(state, aim_of(state)))
    (request,) = line.of(WatchTurn)
    assert rested.first is rested.last
    assert rested.turned == 0.3
    assert request.aim_cents == pytest.approx(26.0 - 8.0, abs=0.1)


def test_a_stop_outside_is_nudged_at_the_same_aim(line: Any, make_state: Any) -> None:
    state = make_state(line)
    line.hand = lambda line, request: line.to(
        request, 0.5 * (request.aim_cents + line.cents(request.note)), 0.2
    )
    rested = line.run(into_window(state, aim_of(state)))
    turns = line.of(WatchTurn)
    # 8 cents halved until 0.3 is left: 4, 2, 1, 0.5, 0.25.
    assert len(turns) == 5
    assert len({round(turn.aim_cents, 6) for turn in turns}) == 1
    assert turns[1].start_cents == pytest.approx(turns[0].aim_cents + 4.0, abs=0.1)
    assert rested.turned == pytest.approx(1.0)
    assert all(turn.sentence.startswith("Nudge") for turn in turns[1:])


@pytest.mark.parametrize("ended", ["probe", "limit"])
def test_a_probe_or_a_limit_is_not_nudged(line: Any, make_state: Any, ended: str) -> None:
    state = make_state(line)

    def hand(line: Any, request: Any) -> Any:
        got = line.to(request, request.aim_cents + 5.0)
        return got if ended == "probe" else TurnWatched(Ended.LIMIT, got.after, got.track, 0.3)

    line.hand = hand
    line.run(into_window(state, aim_of(state, probe=ended == "probe")))
    assert len(line.of(WatchTurn)) == 1


def still(turned: float | None) -> Any:
    def hand(line: Any, request: Any) -> Any:
        if request.turn == 1:
            return line.to(request, request.start_cents - 3.0, 0.3)
        here = line.cents(request.note)
        return line.watched(request, Ended.STILL, turned, [here] * 12)

    return hand


@pytest.mark.parametrize(("turned", "at_end"), [(0.05, False), (0.6, True)])
def test_an_end_needs_turns_long_enough_to_show_it(
    line: Any, make_state: Any, turned: float, at_end: bool
) -> None:
    """Two nudges within the play of the screw move nothing either."""
    state = make_state(line)
    line.hand = still(turned)
    line.run(into_window(state, aim_of(state)))
    assert ("base" in state.still) is at_end
    if at_end:
        assert state.still["base"] == -1


def test_half_a_cent_short_is_no_end(line: Any, make_state: Any) -> None:
    state = make_state(line)

    def hand(line: Any, request: Any) -> Any:
        if request.turn == 1:
            return line.to(request, request.aim_cents + 0.6)
        return line.watched(request, Ended.STILL, 0.6, [line.cents(request.note)] * 12)

    line.hand = hand
    line.run(into_window(state, aim_of(state)))
    assert state.still == {}


def away_first(turned: float | None) -> Any:
    def hand(line: Any, request: Any) -> Any:
        here = line.cents(request.note)
        sign = np.sign(request.aim_cents - here)
        track = [here] * 4 + [here - sign * k for k in (1.0, 2.0, 3.0)]
        track += [request.aim_cents] * 3
        line.move(request.trimmer, request.note, request.aim_cents - here)
        return line.watched(request, Ended.INSIDE, turned, track)

    return hand


def test_the_wrong_way_is_a_fault_only_where_the_way_was_told(line: Any, make_state: Any) -> None:
    state = make_state(line)
    line.hand = away_first(0.3)
    rested = line.run(into_window(state, aim_of(state)))
    assert line.of(WatchTurn)[0].clockwise is None
    assert not rested.wrong_way
    state.acting["base"] = state.acting["base"].moved(-8.0, 0.3)
    line.base += 8.0
    rested = line.run(into_window(state, aim_of(state)))
    assert line.of(WatchTurn)[1].clockwise is not None
    assert rested.wrong_way


def test_the_sense_is_learned_where_nobody_counts_turns(line: Any, make_state: Any) -> None:
    """Clockwise is asked for first: it went away from an aim below, so clockwise raises."""
    state = make_state(line)
    line.hand = away_first(None)
    line.run(into_window(state, aim_of(state)))
    assert state.acting["base"].raises_clockwise is True
    assert state.acting["base"].guessed
    line.base += 8.0
    line.hand = lambda line, request: line.to(request, request.aim_cents, None)
    rested = line.run(into_window(state, aim_of(state)))
    assert line.of(WatchTurn)[1].clockwise is False
    assert not state.acting["base"].guessed
    assert not rested.wrong_way


def test_where_base_comes_after_the_aim_goes_with_drift(line: Any, make_state: Any) -> None:
    state = make_state(line)
    base = state.acting["base"].lever(state.belief.notes)

    def hand(line: Any, request: Any) -> Any:
        if request.turn == 1:
            line.base += 0.8  # it drifted while the screwdriver went in
        return line.to(request, request.aim_cents)

    line.hand = hand
    line.run(into_window(state, aim_of(state, "scale", rest=(base,))))
    first, second = line.of(WatchTurn)
    assert second.aim_cents == pytest.approx(first.aim_cents + 0.8, abs=0.1)


def test_what_the_hand_takes_back_is_said(line: Any, make_state: Any) -> None:
    state = make_state(line)
    line.run(into_window(state, aim_of(state, beyond_cents=0.5)))
    (request,) = line.of(WatchTurn)
    assert request.settles_to_cents == pytest.approx(request.aim_cents - 0.5)
    assert "settles to" in request.sentence


def test_most_turns_of_a_probe_are_said_to_the_person(line: Any, make_state: Any) -> None:
    state = make_state(line)
    line.run(into_window(state, aim_of(state, probe=True)))
    (request,) = line.of(WatchTurn)
    assert request.most_turns == 1.0
    assert "no more than one turn" in request.sentence


def test_no_pitch_or_an_older_reading_is_refused(line: Any, make_state: Any) -> None:
    for heard in (Heard("x", 1e6, None, 0.0), Heard("x", 0.0, 1000.0, 0.03)):
        state = make_state(line)
        line.hand = lambda line, request, heard=heard: TurnWatched(Ended.INSIDE, heard, ())
        with pytest.raises(InputError):
            line.run(into_window(state, aim_of(state)))
