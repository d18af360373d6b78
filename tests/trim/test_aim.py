"""The aim's linear algebra against the hand-worked example of docs/aim-and-pivot.md."""

from typing import Any

import numpy as np
import pytest
from scipy.optimize import linprog

from pitchwright.trim.aim import Lever, best_amounts, greatest_left, room
from pitchwright.trim.kinds import TrimmerKind
from pitchwright.trim.trimmer import Trimmer

CV = np.arange(0.0, 6.0)
BASE = Lever(Trimmer("base", TrimmerKind.BASE_FINE), np.ones(6))
SCALE = Lever(Trimmer("scale", TrimmerKind.SCALE), CV - 0.0)


def test_worked_example() -> None:
    """Scale +12 cents an octave, pivot 0 V, zero at C4 (3 V); turned at 5 V. Worked by hand."""
    curve = 12.0 * (CV - 3.0)
    assert curve[5] == 24.0
    amounts, left = best_amounts(curve, [SCALE, BASE])
    assert amounts == pytest.approx([-12.0, 36.0])
    assert left == pytest.approx(0.0, abs=1e-9)
    aim = curve[5] + amounts[0] * (5.0 - 0.0)
    assert aim == pytest.approx(-36.0)
    after = curve + amounts[0] * SCALE.shape
    assert after == pytest.approx(np.full(6, -36.0))
    assert after + amounts[1] == pytest.approx(np.zeros(6), abs=1e-9)


@pytest.mark.parametrize("scale", [-30.0, -3.0, 12.0, 25.0])
@pytest.mark.parametrize("far_v", [4.0, 5.0])
def test_turn_past_zero_then_retune(scale: Any, far_v: Any) -> None:
    """Base at zero at 3 V, pivot 0 V: the aim lies past zero (common practice, no source)."""
    curve = scale * (CV - 3.0)
    amount = best_amounts(curve, [SCALE, BASE])[0][0]
    heard = scale * (far_v - 3.0)
    aim = heard + amount * far_v
    assert np.sign(aim) == -np.sign(heard)
    assert aim == pytest.approx(-3.0 / (far_v - 3.0) * heard)


def test_zero_is_the_aim_only_without_a_later_move() -> None:
    curve = 12.0 * CV
    amount = best_amounts(curve, [SCALE])[0][0]
    assert curve[5] + amount * 5.0 == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("pivot_v", [-1.0, 0.0, 2.5, 8.0])
def test_room_ends_where_the_others_can_just_do_it(pivot_v: Any) -> None:
    rng = np.random.default_rng(5)
    curve = 7.0 * CV + rng.normal(0.0, 0.2, 6)
    lever = Lever(Trimmer("scale", TrimmerKind.SCALE), CV - pivot_v)
    guard = np.full(6, 0.1)
    space = room(curve, guard, lever, [BASE], 1.0)
    assert space.fits
    for amount in (space.low, space.high):
        assert greatest_left(curve + amount * lever.shape, guard, [BASE]) == pytest.approx(
            1.0, abs=0.02
        )


def test_a_trimmer_at_its_end_is_not_asked_for_more() -> None:
    stuck = Lever(SCALE.trimmer, SCALE.shape, low=-5.0)
    amounts, left = best_amounts(12.0 * (CV - 3.0), [stuck, BASE])
    assert amounts[0] == pytest.approx(-5.0)
    assert left == pytest.approx(7.0 * 5.0 / 2.0)


@pytest.mark.parametrize("seed", range(20))
def test_one_trimmer_alone_agrees_with_a_linear_programme(seed: int) -> None:
    """An independent library's solver (scipy's HiGHS), a note at the pivot and bounds included."""
    rng = np.random.default_rng(seed)
    curve, shape = rng.normal(0.0, 20.0, 11), np.linspace(0.0, 5.0, 11) - 0.5 * (seed % 3)
    low, high = (-np.inf, np.inf) if seed % 2 else (-2.0, 1.5)
    lever = Lever(Trimmer("scale", TrimmerKind.SCALE), shape, low, high)
    amounts, left = best_amounts(curve, [lever])
    ones = np.ones((11, 1))
    best = linprog(
        [0.0, 1.0],
        A_ub=np.block([[shape[:, None], -ones], [-shape[:, None], -ones]]),
        b_ub=np.concatenate([-curve, curve]),
        bounds=[(low, high), (0.0, None)],
    )
    assert best.x is not None
    assert left == pytest.approx(best.x[1], abs=1e-6)
    assert low <= amounts[0] <= high


@pytest.mark.parametrize("seed", range(20))
def test_trimmers_near_their_ends_agree_with_a_linear_programme(seed: int) -> None:
    """An independent library's solver (scipy's HiGHS) on three trimmers with ends."""
    rng = np.random.default_rng(100 + seed)
    volts = np.linspace(0.0, 5.0, 11)
    curve = rng.normal(0.0, 3.0, 11) + rng.normal(0.0, 8.0) * volts
    kinds = (TrimmerKind.HIGH_END, TrimmerKind.SCALE, TrimmerKind.BASE_FINE)
    shapes = (0.0327 * 2.0**volts, volts - rng.uniform(-1.0, 6.0), np.ones(11))
    ends = [(-float(rng.uniform(0, 6)), float(rng.uniform(0, 6))) for _ in kinds]
    levers = [
        Lever(Trimmer(kind, kind), shape, *end)
        for kind, shape, end in zip(kinds, shapes, ends, strict=True)
    ]
    amounts, left = best_amounts(curve, levers)
    columns = np.column_stack([*shapes, -np.ones(11)])
    other = np.column_stack([*(-shape for shape in shapes), -np.ones(11)])
    best = linprog(
        [0.0, 0.0, 0.0, 1.0],
        A_ub=np.vstack([columns, other]),
        b_ub=np.concatenate([-curve, curve]),
        bounds=[*ends, (0.0, None)],
    )
    assert best.x is not None
    assert left == pytest.approx(best.x[3], abs=1e-6)
    for amount, (low, high) in zip(amounts, ends, strict=True):
        assert low - 1e-9 <= amount <= high + 1e-9


@pytest.mark.parametrize("seed", range(10))
def test_the_ends_of_the_room_use_up_the_tolerance_and_no_more(seed: int) -> None:
    rng = np.random.default_rng(seed)
    curve = rng.normal(0.0, 0.3, 6) + 4.0 * CV
    guard = np.full(6, 0.1)
    space = room(curve, guard, SCALE, [BASE], 1.0)
    assert space.fits
    for amount in (space.low, space.high):
        used = greatest_left(curve + amount * SCALE.shape, guard, [BASE])
        assert 0.95 <= used <= 1.0 + 1e-9


@pytest.mark.parametrize("sign", [-1.0, 1.0])
def test_the_room_stops_at_the_end_of_the_trimmer(sign: float) -> None:
    """The best lies just inside the end; tolerance alone would allow more on that side."""
    curve = sign * -4.0 * CV
    free = room(curve, np.full(6, 0.1), SCALE, [BASE], 1.0)
    end = free.amount + 0.2 * (free.high - free.amount if sign > 0 else free.low - free.amount)
    bound = {"high": end} if sign > 0 else {"low": end}
    space = room(curve, np.full(6, 0.1), Lever(SCALE.trimmer, CV, **bound), [BASE], 1.0)
    assert space.fits
    assert (space.high if sign > 0 else space.low) == pytest.approx(end)
    other = (space.low, free.low) if sign > 0 else (space.high, free.high)
    assert other[0] == pytest.approx(other[1])
    assert min(space.low, space.high) <= space.amount <= max(space.low, space.high)
