"""The sliders: a turn that ends by itself, by a tap, at a limit, or with nothing moved."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import pytest

from pitchwright.practice.hands import Turned
from pitchwright.web.sliders import Sliders


@dataclass
class Bench:
    """A trimmer that does ten cents a turn; what a person does stands in a list by time."""

    acts: list[tuple[float, Callable[[], None]]] = field(default_factory=list)
    cents: float = 20.0
    t_s: float = 0.0
    turned: dict[str, float] = field(default_factory=dict)

    def turn(self, trimmer: str, turns: float) -> None:
        self.turned[trimmer] = self.turned.get(trimmer, 0.0) + turns
        self.cents += 10.0 * turns if trimmer == "scale" else 0.0

    def bump(self, cents: float) -> None:
        self.cents += cents

    def live_cents(self) -> float:
        return self.cents

    def wait(self, seconds: float) -> None:
        self.t_s += seconds
        while self.acts and self.acts[0][0] <= self.t_s:
            self.acts.pop(0)[1]()
        assert self.t_s < 3600.0, "the turn never ended"

    def now_s(self) -> float:
        return self.t_s


@pytest.fixture
def rests() -> list[float]:
    return []


@pytest.fixture
def sliders(rests: list[float]) -> Sliders:
    return Sliders(lambda: 0.5, rests.append)


def turn(sliders: Sliders, bench: Bench) -> Turned:
    return sliders.turn(
        bench,
        asked="scale",
        start_cents=20.0,
        aim_cents=0.0,
        low_cents=-5.0,
        high_cents=25.0,
        most_turns=None,
        clockwise=None,
    )


def test_a_turn_ends_by_itself_once_the_reading_rests_inside(
    sliders: Sliders, rests: list[float]
) -> None:
    bench = Bench([(1.0, lambda: sliders.move("scale", -2.0))])
    turned = turn(sliders, bench)
    assert turned.stopped == "there"
    assert turned.turns == pytest.approx(-2.0)
    assert 1.9 < bench.t_s < 2.3
    assert max(rests) == 1.0
    assert rests[-1] == 0.0


def test_a_reading_that_only_passes_through_ends_nothing(sliders: Sliders) -> None:
    bench = Bench(
        [
            (1.0, lambda: sliders.move("scale", -2.0)),
            (1.5, lambda: sliders.move("scale", -0.3)),
            (3.0, lambda: sliders.move("scale", 0.3)),
        ]
    )
    turn(sliders, bench)
    assert 3.9 < bench.t_s < 4.3


def test_nothing_ends_before_anything_was_turned(sliders: Sliders) -> None:
    """The reading may stand at the aim by chance, or lie there before the hand has begun."""
    bench = Bench([(30.0, sliders.leave)], cents=0.1)
    turn(sliders, bench)
    assert bench.t_s >= 30.0


def test_a_tap_leaves_it_where_it_is(sliders: Sliders) -> None:
    bench = Bench([(1.0, lambda: sliders.move("scale", -1.0)), (5.0, sliders.leave)])
    turned = turn(sliders, bench)
    assert turned.stopped == "there"
    assert bench.cents == pytest.approx(10.0)
    assert 4.9 < bench.t_s < 5.3


def test_an_earlier_tap_does_not_end_the_next_turn(sliders: Sliders) -> None:
    sliders.leave()
    sliders.move("scale", 7.0)
    bench = Bench([(9.0, sliders.leave)])
    turned = turn(sliders, bench)
    assert bench.t_s >= 9.0
    assert turned.turns == 0.0


def test_beyond_a_limit_it_stops(sliders: Sliders) -> None:
    bench = Bench([(1.0, lambda: sliders.move("scale", 1.0))])
    assert turn(sliders, bench).stopped == "limit"
    assert bench.t_s < 2.0


def test_a_finger_may_overshoot_for_a_moment(sliders: Sliders) -> None:
    bench = Bench(
        [
            (1.0, lambda: sliders.move("scale", -3.0)),
            (1.2, lambda: sliders.move("scale", 1.0)),
        ]
    )
    assert turn(sliders, bench).stopped == "there"


def test_a_tap_after_turns_that_moved_nothing_says_so(sliders: Sliders) -> None:
    bench = Bench([(1.0, lambda: sliders.move("base", 3.0)), (4.0, sliders.leave)])
    turned = turn(sliders, bench)
    assert turned.stopped == "still"
    assert bench.turned == {"base": 3.0}
    assert turned.turns == 0.0, "the trimmer that was asked for was not turned"


def test_an_hour_at_one_turn_keeps_no_more_than_minutes(sliders: Sliders) -> None:
    bench = Bench([(3000.0, sliders.leave)])
    assert len(turn(sliders, bench).track) <= 2400
