"""A trimmer as a screw: ends, play, steps, sense and the effect along its travel."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitchwright.errors import InternalError
from pitchwright.practice import Trimmer, TrimmerKind

TURNS = st.floats(-30.0, 30.0, allow_nan=False)


def test_rests_at_mid_travel_without_effect() -> None:
    trimmer = Trimmer.at(TrimmerKind.SCALE, 4.0, travel_turns=20.0)
    assert trimmer.wiper_turns == 10.0
    assert trimmer.effect == 0.0
    assert trimmer.effect_per_turn == 4.0


def test_effect_per_turn_changes_by_a_tenth_from_end_to_end() -> None:
    low = Trimmer.at(TrimmerKind.SCALE, 4.0, travel_turns=20.0, position_turns=0.0)
    high = low.turned(20.0)
    assert high.effect_per_turn / low.effect_per_turn == pytest.approx(1.05 / 0.95)
    assert high.effect + low.effect == pytest.approx(4.0 * 10.0 * 0.1 / 2.0)


@given(st.floats(0.5, 19.5), st.booleans())
def test_slope_is_the_effects_own(position: float, reversed_sense: bool) -> None:
    trimmer = Trimmer.at(
        TrimmerKind.SCALE,
        4.0,
        travel_turns=20.0,
        position_turns=position,
        reversed_sense=reversed_sense,
    )
    rise = trimmer.turned(1e-4).effect - trimmer.turned(-1e-4).effect
    assert trimmer.effect_per_turn == pytest.approx(rise / 2e-4, rel=1e-6)
    assert (rise < 0.0) is reversed_sense


@given(st.lists(TURNS, max_size=12), st.floats(0.0, 0.5))
def test_wiper_stays_on_the_track_and_within_the_play(turns: list[float], play: float) -> None:
    trimmer = Trimmer.at(TrimmerKind.BASE_FINE, 10.0, travel_turns=12.0, backlash_turns=play)
    for turn in turns:
        trimmer = trimmer.turned(turn)
        assert 0.0 <= trimmer.wiper_turns <= 12.0
        assert abs(trimmer.screw_turns - trimmer.wiper_turns) <= play / 2.0 + 1e-12


def test_play_is_felt_when_the_direction_changes() -> None:
    trimmer = Trimmer.at(TrimmerKind.BASE_FINE, 10.0, backlash_turns=0.2).turned(1.0)
    moved = trimmer.effect
    assert trimmer.turned(-0.19).effect == moved
    assert trimmer.turned(-0.3).effect == pytest.approx(trimmer.turned(-0.2).turned(-0.1).effect)
    assert trimmer.turned(-0.3).effect < moved
    assert trimmer.turned(0.1).effect > moved


def test_beyond_an_end_the_screw_slips() -> None:
    trimmer = Trimmer.at(TrimmerKind.SCALE, 4.0, travel_turns=20.0, backlash_turns=0.1)
    at_end = trimmer.turned(15.0)
    assert at_end.wiper_turns == 20.0
    assert at_end.effect == trimmer.turned(400.0).effect
    # Turning back takes the play and then bites: the lost turns need not be undone.
    assert at_end.turned(-0.1).effect == at_end.effect
    assert at_end.turned(-1.1).wiper_turns == pytest.approx(19.0)


def test_a_coarse_track_rests_on_its_steps_only() -> None:
    trimmer = Trimmer.at(TrimmerKind.BASE_FINE, 20.0, travel_turns=1.0, step_turns=0.1, change=0.0)
    effects = {round(trimmer.turned(turn / 200.0).effect, 9) for turn in range(-100, 101)}
    assert effects == {round(2.0 * step, 9) for step in range(-5, 6)}


@given(TURNS)
def test_turning_leaves_the_old_value_alone(turns: float) -> None:
    trimmer = Trimmer.at(TrimmerKind.SCALE, 4.0)
    trimmer.turned(turns)
    assert trimmer == Trimmer.at(TrimmerKind.SCALE, 4.0)


def test_an_impossible_trimmer_is_refused() -> None:
    with pytest.raises(InternalError):
        Trimmer.at(TrimmerKind.SCALE, -1.0)
