import math

import pytest

from pitchwright.practice.touch import Touch
from pitchwright.practice.trimmers import Trimmer
from pitchwright.trim.kinds import TrimmerKind


def test_warmth_comes_and_goes_as_an_exponential_and_capacitance_at_once() -> None:
    hand = Touch(heat_cents=2.0, heat_s=60.0, capacitance_cents=-0.5).there(True)
    assert hand.cents == pytest.approx(-0.5)
    warmed = hand.after(60.0)
    assert warmed.cents == pytest.approx(2.0 * (1.0 - math.exp(-1.0)) - 0.5)
    gone = warmed.there(False)
    assert gone.cents == pytest.approx(2.0 * (1.0 - math.exp(-1.0)))
    assert gone.after(60.0).cents == pytest.approx(gone.cents * math.exp(-1.0))
    assert gone.after(30.0).after(30.0).cents == pytest.approx(gone.after(60.0).cents)


def test_a_screw_springs_back_once_against_its_last_way() -> None:
    screw = Trimmer.at(TrimmerKind.SCALE, 4.0, spring_turns=0.05).turned(1.0).turned(-0.3)
    assert screw.let_go().wiper_turns == pytest.approx(screw.wiper_turns + 0.05)
    assert screw.let_go().let_go() == screw.let_go()
    assert Trimmer.at(TrimmerKind.SCALE, 4.0, spring_turns=0.05).let_go().wiper_turns == 6.0


def test_a_screw_that_sticks_stands_and_then_follows_at_once() -> None:
    screw = Trimmer.at(TrimmerKind.BASE_FINE, 10.0, stick_turns=0.1)
    stuck = screw.turned(0.06)
    assert stuck.effect == screw.effect
    slipped = stuck.turned(0.06)
    assert slipped.wiper_turns == pytest.approx(6.12)
