"""When a turn is over."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pitchwright.bench.live.resting import Resting
from pitchwright.procedures.requests import Ended, WatchTurn

TURN = WatchTurn(
    oscillator="Heron",
    trimmer="scale trimmer",
    visit=1,
    turn=1,
    note=72.0,
    cv_v=4.0,
    tuned_hz=523.25,
    start_cents=12.0,
    aim_cents=2.0,
    window_cents=0.5,
    low_cents=-2.0,
    high_cents=16.0,
    most_turns=None,
    clockwise=None,
    probe=False,
    sentence="Turn.",
)


def follow(resting: Resting, *cents: float, u_cents: float = 0.02) -> list[Ended | None]:
    """Twenty readings a second."""
    noise = np.random.default_rng(1).normal(0.0, 0.01, len(cents))
    begin = follow.t_s  # type: ignore[attr-defined]
    ends = []
    for place, here in enumerate(cents):
        ends.append(resting.saw(begin + 0.05 * place, here + noise[place], u_cents))
    follow.t_s = begin + 0.05 * len(cents)  # type: ignore[attr-defined]
    return ends


follow.t_s = 0.0  # type: ignore[attr-defined]


def test_it_ends_where_the_reading_rests_inside_the_window_and_not_on_the_way_through() -> None:
    resting = Resting(TURN)
    assert set(follow(resting, *np.linspace(12.0, -1.0, 40))) == {None}
    assert set(follow(resting, *np.linspace(-1.0, 2.1, 10))) == {None}
    ends = follow(resting, *[2.1] * 40)
    assert Ended.INSIDE in ends
    assert ends.index(Ended.INSIDE) >= 12  # it rested for a while first


def test_past_a_limit_it_ends_once_the_hand_rests_and_one_stray_reading_is_none() -> None:
    resting = Resting(TURN)
    follow(resting, *[12.0] * 10, 17.0, *[12.0] * 10)
    assert not resting.past_limit
    follow(resting, *np.linspace(12.0, 18.0, 10))
    assert resting.past_limit
    assert Ended.LIMIT in follow(resting, *[18.0] * 30)


def test_resting_elsewhere_ends_it_only_after_a_good_while_and_only_once_it_moved() -> None:
    resting = Resting(TURN, outside_s=4.0)
    assert set(follow(resting, *[12.0] * 200)) == {None}
    follow(resting, *np.linspace(12.0, 6.0, 20))
    ends = follow(resting, *[6.0] * 120)
    assert ends.index(Ended.OUTSIDE) >= 75


def test_on_word_it_says_how_it_stands() -> None:
    resting = Resting(TURN)
    follow(resting, *[12.0] * 5)
    assert resting.on_word() is Ended.STILL
    follow(resting, *np.linspace(12.0, 6.0, 20))
    assert resting.on_word() is Ended.OUTSIDE
    follow(resting, *np.linspace(6.0, 2.2, 20))
    assert resting.on_word() is Ended.INSIDE


def test_a_noisy_reading_can_rest_too() -> None:
    resting = Resting(replace(TURN, start_cents=2.0))
    rng = np.random.default_rng(2)
    noisy = 2.0 + 0.2 * rng.standard_normal(60)
    assert Ended.INSIDE in follow(resting, *noisy, u_cents=0.25)


def test_it_knows_since_when_it_rests() -> None:
    resting = Resting(TURN)
    follow(resting, *np.linspace(12.0, 2.0, 20))
    at_rest_s = follow.t_s  # type: ignore[attr-defined]
    follow(resting, *[2.0] * 16)
    assert abs(resting.rest_began_s() - at_rest_s) < 0.11
