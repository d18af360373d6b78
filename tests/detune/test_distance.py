"""How far today is from the plan."""

import math

import pytest

from pitchwright.detune import Interval, constant, distance, even
from pitchwright.errors import InputError
from pitchwright.tracking import CurveEntry
from pitchwright.units import cents_between, cv_of_note, note_to_hz, ratio_of_cents


def curve(cents: dict[int, float], u_cents: float = 0.05) -> list[CurveEntry]:
    return [
        CurveEntry(note, cv_of_note(note), note_to_hz(note) * ratio_of_cents(c), c, u_cents)
        for note, c in cents.items()
    ]


def test_on_the_plan_nothing_is_left() -> None:
    plan = even(0.5, 36, 72)
    targets = [dict(zip(plan.notes, voice.cents, strict=True)) for voice in plan.voices]
    (one,) = distance(plan, {"leader": curve(targets[0]), "follower": curve(targets[1])})
    assert one.offset_cents == pytest.approx((0.0,) * 37, abs=1e-9)
    assert one.beats_hz == pytest.approx(one.planned_hz)
    assert one.ratio == pytest.approx(plan.ratio)


def test_too_wide_is_said_with_its_uncertainty() -> None:
    plan = constant(3.0, 48, 72)
    today = {"leader": curve({48: 0.0, 72: 0.0}), "follower": curve({48: 3.2, 60: 1.0, 72: 5.0})}
    (one,) = distance(plan, today)
    assert one.notes == (48, 72)
    assert one.offset_cents == pytest.approx((0.2, 2.0))
    assert one.u_cents[0] == pytest.approx(0.05 * math.sqrt(2.0))
    assert "at C5, 2.00 ± 0.14 cents too wide" in one.sentence
    assert one.beats_hz[1] == pytest.approx(note_to_hz(72) * (ratio_of_cents(5.0) - 1.0))


def test_turning_round_is_said() -> None:
    plan = constant(3.0, 48, 72)
    today = {"leader": curve({48: 0.0, 72: 0.0}), "follower": curve({48: 2.0, 72: -1.0})}
    (one,) = distance(plan, today)
    assert math.isinf(one.ratio)
    assert "grows again" in one.sentence


def test_a_fifth_is_compared_as_a_fifth() -> None:
    plan = even(0.5, 48, 60, interval=Interval(3, 2))
    targets = [dict(zip(plan.notes, voice.cents, strict=True)) for voice in plan.voices]
    (one,) = distance(plan, {"leader": curve(targets[0]), "follower": curve(targets[1])})
    assert one.offset_cents == pytest.approx((0.0,) * 13, abs=1e-9)
    assert one.beats_hz == pytest.approx(one.planned_hz, abs=1e-6)
    assert cents_between(curve(targets[1])[0].f_hz, note_to_hz(48)) > 700.0


def test_who_is_missing_is_named() -> None:
    plan = constant(3.0, 48, 72)
    with pytest.raises(InputError, match="only leader was measured"):
        distance(plan, {"leader": curve({48: 0.0})})
    with pytest.raises(InputError, match="share no note"):
        distance(plan, {"leader": curve({48: 0.0}), "follower": curve({50: 0.0, 90: 0.0})})
