from __future__ import annotations

from collections.abc import Callable

import pytest

from pitchwright.errors import InputError
from pitchwright.tracking import Point, TargetCurve, survey_oscillator
from pitchwright.units import note_to_hz

Played = Callable[..., list[Point]]


def test_flat_at_another_a4_is_the_same_interval_everywhere() -> None:
    target = TargetCurve.flat(442.0)
    # 1200 log2(442 / 440), computed.
    assert target.cents_at(24) == pytest.approx(7.8514, abs=1e-4)
    assert target.cents_at(100.5) == target.cents_at(24)
    assert target.absolute


@pytest.mark.parametrize("a4_hz", [0.0, -440.0, float("nan"), float("inf")])
def test_an_impossible_a4_is_refused(a4_hz: float) -> None:
    with pytest.raises(InputError, match="A4"):
        TargetCurve.flat(a4_hz)


def test_own_middle_c_takes_base_out_and_the_clock_with_it(played: Played) -> None:
    points = played(range(24, 85, 12), base=17.0, scale=4.0)
    target = TargetCurve.own(points)
    survey = survey_oscillator("Heron", points, target=target, clock_ppm=50.0)
    assert survey.model.base_cents == pytest.approx(0.0, abs=1e-3)
    assert survey.curve.entries[-1].cents == pytest.approx(8.0, abs=1e-3)
    assert survey.u_common_cents == 0.0
    assert "middle C" in target.words


def test_own_pitch_without_middle_c_is_that_of_the_nearest_note(played: Played) -> None:
    points = played((36, 55, 84), base=5.0, scale=12.0)
    assert TargetCurve.own(points).cents_at(60) == pytest.approx(0.0, abs=1e-9)  # 5 - 5/12·12
    assert "G3" in TargetCurve.own(points).words


def test_following_another_is_tracking_it_where_it_is_off(played: Played) -> None:
    leader = survey_oscillator("Wren", played(range(24, 85, 12), base=3.0, scale=7.0))
    target = TargetCurve.following(leader.curve.entries, "Wren", same_take=True)
    follower = survey_oscillator("Heron", played((24, 60, 84), base=4.0, scale=7.0), target=target)
    assert [e.cents for e in follower.curve.entries] == pytest.approx([1.0, 1.0, 1.0], abs=1e-3)
    # Both uncertainties count.
    own = leader.curve.entries[0].u_cents
    assert follower.curve.entries[0].u_cents > 2**0.5 * min(own, 0.1)


def test_a_table_is_straight_between_its_notes_and_refuses_outside() -> None:
    target = TargetCurve.table({60: 0.0, 72: 6.0})
    assert target.cents_at(66) == pytest.approx(3.0)
    with pytest.raises(InputError, match=r"C♯5 is outside the table, which goes from C4 to C5"):
        target.cents_at(73)
    with pytest.raises(InputError, match="empty"):
        TargetCurve.table({})
    with pytest.raises(InputError, match="no number"):
        TargetCurve.table({60: float("nan")})


def test_a_survey_outside_the_target_says_whose() -> None:
    points = [Point(48, 2.0, note_to_hz(48), 0.1)]
    with pytest.raises(InputError, match="Heron: C3 is outside"):
        survey_oscillator("Heron", points, target=TargetCurve.table({60: 0.0, 72: 6.0}))
