from typing import Any

import numpy as np
import pytest

from pitchwright.trim.aim import Lever
from pitchwright.trim.kinds import TrimmerKind
from pitchwright.trim.pivot import PivotDensity
from pitchwright.trim.plan import plan, turning_index
from pitchwright.trim.trimmer import Trimmer

K = TrimmerKind
CV = np.arange(0.0, 5.5, 0.5)
KHZ = 0.0327 * 2.0**CV
GUARD = np.full(11, 0.1)
AT = {"base": 10, "scale": 10, "high": 10, "output": 10, "coarse": 10}


def lever(name: Any, kind: Any, shape: Any, **more: Any) -> Any:
    return Lever(Trimmer(name, kind, **more), shape)


BASE = lever("base", K.BASE_FINE, np.ones(11))
SCALE = lever("scale", K.SCALE, CV)
HIGH = lever("high", K.HIGH_END, KHZ)


def test_in_tune_needs_no_visit() -> None:
    planned = plan(np.full(11, 0.3), GUARD, [BASE, SCALE], 1.0, AT)
    assert planned.next is None
    assert planned.fits


def test_only_base_is_off() -> None:
    planned = plan(np.full(11, 9.0), GUARD, [BASE, SCALE], 1.0, AT)
    assert planned.next is not None
    assert planned.next.lever is BASE
    assert planned.next.shift_cents == pytest.approx(-9.0, abs=0.01)
    assert planned.visits == 1


def test_high_end_comes_before_scale_before_base() -> None:
    planned = plan(9.0 + 5.0 * CV - 9.0 * KHZ, GUARD, [BASE, SCALE, HIGH], 1.0, AT)
    assert planned.next is not None
    assert planned.next.lever is HIGH
    assert [rest.trimmer.name for rest in planned.next.rest] == ["scale", "base"]
    assert planned.next.amount == pytest.approx(9.0, abs=0.5)


def test_a_trimmer_inside_is_left_alone_where_an_output_trim_does_it() -> None:
    inside = lever("scale", K.SCALE, CV, inside=True)
    output = lever("output", K.OUTPUT, CV)
    planned = plan(5.0 * CV, GUARD, [BASE, inside, output], 1.0, AT)
    assert planned.next is not None
    assert planned.next.lever is output


def test_nothing_worth_a_visit() -> None:
    rng = np.random.default_rng(2)
    odd = 3.0 * (-1.0) ** np.arange(11) + rng.normal(0.0, 0.01, 11)
    planned = plan(odd, GUARD, [BASE, SCALE], 1.0, AT)
    assert planned.next is None
    assert not planned.fits
    assert planned.best_cents == pytest.approx(3.0, abs=0.1)


def test_coarse_is_for_what_fine_cannot() -> None:
    coarse = lever("coarse", K.BASE_COARSE, np.ones(11), resolution_cents=2.0)
    far = plan(np.full(11, 150.0), GUARD, [BASE, coarse], 1.0, AT)
    near = plan(np.full(11, 15.0), GUARD, [BASE, coarse], 1.0, AT)
    assert far.next is not None
    assert far.next.lever is coarse
    assert near.next is not None
    assert near.next.lever is BASE


def test_the_turning_note_is_the_end_far_from_the_pivot() -> None:
    assert turning_index(CV, PivotDensity.at(0.0)) == 10
    assert turning_index(CV, PivotDensity.at(4.5)) == 0


def test_the_turning_note_is_never_where_the_likeliest_pivot_moves_nothing() -> None:
    """0 V is likeliest, though all other pivots together speak for turning at the lowest note."""
    spread = np.concatenate([[0.0], np.linspace(4.0, 8.0, 40)])
    weight = np.concatenate([[0.3], np.full(40, 0.7 / 40)])
    assert turning_index(CV, PivotDensity(spread, weight)) == 10


def test_no_visit_for_a_hundredth_of_a_cent() -> None:
    """With the screwdriver in scale, the high end is not gone back to for what it could gain."""
    shape = np.where(np.arange(11) % 2 == 0, 0.77, -0.77)
    curve = 4.0 * CV + 9.0 + shape - 0.2 * KHZ
    guard = np.full(11, 0.1)
    planned = plan(curve, guard, [BASE, SCALE, HIGH], 1.0, AT, in_hand="scale")
    assert planned.next is not None
    assert planned.next.lever is SCALE
    assert [rest.trimmer.name for rest in planned.next.rest] == ["base"]


def test_going_back_to_a_trimmer_costs_a_visit() -> None:
    """The screwdriver is in scale, but the high end comes first: scale is no longer in hand."""
    planned = plan(9.0 + 5.0 * CV - 9.0 * KHZ, GUARD, [BASE, SCALE, HIGH], 1.0, AT, "scale")
    assert planned.next is not None
    assert planned.next.lever is HIGH
    assert planned.visits == 3
