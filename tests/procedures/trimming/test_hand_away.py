"""What stays when the hand has gone, against closed forms: a step, an exponential, a jump."""

import math
from typing import Any

import numpy as np
import pytest

from pitchwright.practice.touch import Touch
from pitchwright.procedures import guided_trim
from pitchwright.procedures.requests import HAND_AWAY, Ask, TakeReadings, Wait, WatchTurn
from pitchwright.procedures.settings import TrimSettings
from pitchwright.procedures.trimming.hand_away import hand_away
from pitchwright.trim import Standing, Trimmer, TrimmerKind
from pitchwright.trim.happened import Happened

TWO = (Trimmer("base", TrimmerKind.BASE_FINE), Trimmer("scale", TrimmerKind.SCALE))


@pytest.fixture
def held(line: Any, make_state: Any) -> Any:
    """A trim with the screwdriver in the base trimmer, which went up last."""
    line.base, line.scale = 0.3, 0.0
    state = make_state(line, tolerance_cents=1.0)
    state.in_hand = state.last_in_hand = "base"
    state.hand_near = True
    state.way["base"] = 1.0
    state.playing = int(state.active[-1])
    return state


def test_it_is_asked_away_and_both_ends_are_heard_at_once_and_again(line: Any, held: Any) -> None:
    line.run(hand_away(held))
    (asked,) = line.of(Ask)
    assert asked.question == HAND_AWAY
    assert "Take the screwdriver out of the base" in asked.sentence
    assert [one.note for one in line.of(TakeReadings)] == [84.0, 24.0, 84.0, 24.0]
    (wait,) = line.of(Wait)
    assert "Another 30 s" in wait.sentence
    assert not held.hand_near
    assert held.in_hand == ""


def test_a_step_as_it_goes_is_learned_for_the_next_aim(line: Any, held: Any) -> None:
    def lift(line: Any) -> None:
        line.base -= 0.8

    line.on_lift = lift
    line.run(hand_away(held))
    curve, _ = held.curve()
    assert curve == pytest.approx(np.full(len(curve), -0.5), abs=0.1)
    springs = held.acting["base"].springs.mean
    assert held.hand.mean - springs == pytest.approx(-0.8, abs=0.2)
    assert held.hand.u < 0.5


def test_warmth_that_dies_away_is_told_from_what_stays(line: Any, held: Any) -> None:
    """2.5 cents that die away as exp(-t/45 s); what stays is 0.3 − 2.5."""
    gone_s: list[float] = []
    line.extra = lambda line: (
        -2.5 * (1.0 - math.exp(-(line.t_s - gone_s[0]) / 45.0) if gone_s else 0.0)
    )
    line.on_lift = lambda line: gone_s.append(line.t_s)
    line.run(hand_away(held))
    assert line.of(Wait)
    curve, _ = held.curve()
    assert curve.mean() == pytest.approx(0.3 - 2.5, abs=0.7)
    assert held.hand.mean < -1.0


class Warm:
    """The practice room's hand on a line: near from the first turn on, gone when asked away."""

    def __init__(self, line: Any, heat_cents: float, heat_s: float) -> None:
        self.touch, self.t_s = Touch(heat_cents=heat_cents, heat_s=heat_s), 0.0
        line.extra = lambda line: self.at(line.t_s).cents
        line.hand = self.turn
        line.on_lift = lambda line: self.comes(line, False)

    def at(self, t_s: float) -> Touch:
        self.touch, self.t_s = self.touch.after(max(t_s - self.t_s, 0.0)), max(t_s, self.t_s)
        return self.touch

    def comes(self, line: Any, near: bool) -> None:
        self.touch = self.at(line.t_s).there(near)

    def turn(self, line: Any, request: Any) -> Any:
        self.comes(line, True)
        line.t_s += 25.0
        return line.exactly(request)


@pytest.mark.parametrize(
    ("heat_cents", "heat_s"),
    [(-3.0, 45.0), (3.0, 45.0), (1.5, 90.0), (3.0, 90.0), (-3.0, 90.0), (1.5, 130.0)],
)
def test_in_tune_holds_once_all_has_cooled(line: Any, heat_cents: float, heat_s: float) -> None:
    warm = Warm(line, heat_cents, heat_s)
    result = line.run(guided_trim(TrimSettings("x", TWO, tolerance_cents=1.5)))
    assert result.verdict.standing is Standing.IN_TUNE
    assert result.visits <= 5
    warm.comes(line, False)
    line.t_s += 600.0
    assert max(abs(line.cents(note)) for note in np.arange(24.0, 85.0, 6.0)) <= 1.5


def test_a_jump_while_nobody_is_there_is_no_doing_of_the_hand(line: Any, held: Any) -> None:
    gone_s: list[float] = []
    line.extra = lambda line: 9.0 if gone_s and line.t_s > gone_s[0] + 15.0 else 0.0
    line.on_lift = lambda line: gone_s.append(line.t_s)
    line.run(hand_away(held))
    assert Happened.BUMPED in line.told()
    assert held.hand.mean == 0.0
    assert held.curve()[0].mean() == pytest.approx(9.3, abs=0.3)


def test_in_tune_is_said_only_after_the_hand_has_gone(line: Any) -> None:
    """1.6 cents go with the hand: with the screwdriver in it was inside ±1, and is not after."""
    near: list[bool] = []

    def hand(line: Any, request: Any) -> Any:
        if not near:
            line.base += 1.6
            near.append(True)
        return line.exactly(request)

    def lift(line: Any) -> None:
        if near:
            line.base -= 1.6
            near.clear()

    line.hand, line.on_lift = hand, lift
    result = line.run(guided_trim(TrimSettings("x", TWO, tolerance_cents=1.0)))
    assert result.verdict.standing is Standing.IN_TUNE
    assert not near
    notes = np.arange(24.0, 85.0, 6.0)
    assert max(abs(line.cents(note)) for note in notes) <= 1.0
    assert result.known["base"].hand_cents == pytest.approx(-1.6, abs=0.5)


def test_what_conforms_already_costs_no_visit(line: Any) -> None:
    line.base, line.scale = 0.2, 0.05
    result = line.run(guided_trim(TrimSettings("x", TWO, tolerance_cents=1.0)))
    assert result.visits == 0
    assert result.verdict.standing is Standing.IN_TUNE
    assert line.of(WatchTurn) == []
    assert line.of(Ask) == []
