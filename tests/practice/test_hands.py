from typing import Any

import numpy as np
import pytest

from pitchwright.practice.hands import Habits, Hand


class Screw:
    """A workpiece with one straight trimmer, two cents for a tenth of a turn."""

    def __init__(self, per_turn: Any = 20.0, end: Any = 100.0) -> None:
        self.per_turn, self.end, self.at, self.t_s, self.base = per_turn, end, 0.0, 0.0, 0.0

    def turn(self, trimmer: Any, turns: Any) -> None:
        self.at = min(max(self.at + self.per_turn * turns, -self.end), self.end)

    def bump(self, cents: Any) -> None:
        self.base += cents

    def live_cents(self) -> Any:
        return self.at + self.base

    def wait(self, seconds: Any) -> None:
        self.t_s += seconds

    def now_s(self) -> Any:
        return self.t_s


def turned(
    work: Any, aim: Any, *, seed: Any = 0, habits: Any = None, most_turns: Any = None
) -> Any:
    hand = Hand(np.random.default_rng(seed), habits or Habits())
    hand.take_up("scale", ("base", "scale"), aim)
    done = hand.turn(
        work,
        asked="scale",
        start_cents=0.0,
        aim_cents=aim,
        low_cents=-40.0,
        high_cents=60.0,
        most_turns=most_turns,
        clockwise=None,
    )
    return hand, done


def test_stops_about_at_the_aim() -> None:
    off: list[float] = []
    for seed in range(60):
        work = Screw()
        turned(work, 20.0, seed=seed)
        off.append(work.at - 20.0)
    assert abs(np.mean(off)) < 0.3
    assert 0.3 < np.std(off) < 0.8


def test_turns_round_when_it_was_the_wrong_way() -> None:
    work = Screw(per_turn=-20.0)
    hand, _ = turned(work, 20.0)
    assert [slip.what for slip in hand.slips] == ["wrong way"]
    assert work.at == pytest.approx(20.0, abs=2.5)


def test_stops_at_the_end_of_the_travel() -> None:
    work = Screw(end=12.0)
    _, done = turned(work, 20.0)
    assert done.stopped == "still"
    assert work.at == 12.0


def test_slips_are_written_down() -> None:
    hand, _ = turned(Screw(), 20.0, habits=Habits(wrong_trimmer=1.0, most_slips=1))
    assert hand.in_hand == "base"
    assert [slip.what for slip in hand.slips] == ["wrong trimmer"]
    work = Screw()
    hand, _ = turned(work, 20.0, habits=Habits(bump=1.0))
    assert [slip.what for slip in hand.slips] == ["bumped base knob"]
    assert abs(work.base) >= 3.0


def test_keeps_to_the_most_turns() -> None:
    work = Screw(per_turn=4.0)
    _, done = turned(work, 30.0, most_turns=1.0)
    assert done.stopped == "limit"
    assert abs(done.turns) < 1.6
