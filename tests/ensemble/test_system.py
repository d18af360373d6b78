"""What equations cannot tell is said, and nothing else."""

import pytest

from pitchwright.ensemble.system import Equation, solve

A, B, C = ("a",), ("b",), ("c",)


def test_a_sum_is_told_and_its_parts_are_not() -> None:
    solution = solve([Equation({A: 1.0, B: 1.0}, 5.0, 0.1), Equation({A: 1.0, B: 1.0}, 5.2, 0.1)])
    assert solution.figure({A: 1.0}) is None
    assert solution.figure({A: 1.0, B: -1.0}) is None
    told = solution.figure({A: 2.0, B: 2.0})
    assert told == pytest.approx((10.2, 2.0 * 0.1 / 2.0**0.5))


def test_a_vague_equation_beside_a_sure_one_still_tells() -> None:
    solution = solve([Equation({A: 1.0, B: 1.0}, 5.0, 1e-7), Equation({B: 1.0}, 2.0, 10.0)])
    assert solution.figure({A: 1.0}) == pytest.approx((3.0, 10.0))


def test_what_was_never_named_is_not_told() -> None:
    assert solve([Equation({A: 1.0}, 1.0, 1.0)]).figure({C: 1.0}) is None
