"""The aim: where the reading must stand when the hand stops, other moves still to come.

A trimmer shifts the curve by an amount times its shape: base 1, scale v - pivot, high end -f. With
error curve e, the amounts that leave the smallest greatest error of e + Σ amount · shape are a
minimax fit (``tracking.minimax``). The trimmer turned next gets its own amount of that fit; at the
turning note v the reading must change by amount · shape(v), whatever it shows now. Where only
scale and base are left, the scale amount is minus the slope of the error and this is the rule
known to the trade as turning past zero and retuning (common practice, no source).

How exactly it must be hit follows from what the tolerance leaves: the amounts of this trimmer for
which the others can still bring every note inside.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pitchwright.tracking.minimax import minimax
from pitchwright.trim.trimmer import Trimmer

__all__ = ["Lever", "Room", "best_amounts", "greatest_left", "room"]

Array = NDArray[np.float64]

_FEW_NOTES = 24
_LEAST_RISE = 1e-9
_MOST_CHORDS = 6
_CLOSE_CENTS = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Lever:
    """One trimmer as the planner sees it.

    Attributes
    ----------
    trimmer
        Which.
    shape
        Shift in cents for one unit, at each note, shape (n,).
    low, high
        Bounds of the amount from where it stands: 0 on the side where it is at its end.
    u_shape
        Standard uncertainty of the shape that all notes share (a pivot not yet known), in cents
        for one unit.
    """

    trimmer: Trimmer
    shape: Array
    low: float = -np.inf
    high: float = np.inf
    u_shape: float = 0.0


@dataclass(frozen=True, slots=True)
class Room:
    """Amounts of one trimmer that still allow the tolerance.

    Attributes
    ----------
    amount
        The best.
    low, high
        Ends of the interval of amounts that will do; equal to ``amount`` where none will.
    fits
        Whether any will.
    """

    amount: float
    low: float
    high: float
    fits: bool


def best_amounts(curve_cents: Array, levers: list[Lever]) -> tuple[Array, float]:
    """Amounts that leave the smallest greatest error, and that error.

    Parameters
    ----------
    curve_cents
        Errors as they stand, shape (n,).
    levers
        The trimmers that may still be moved; with none, the error is what it is.
    """
    if not levers:
        return np.empty(0), float(np.abs(curve_cents).max())
    if len(levers) == 1 and len(curve_cents) <= _FEW_NOTES:
        amount = min(max(_one_amount(curve_cents, levers[0].shape), levers[0].low), levers[0].high)
        return np.array([amount]), float(np.abs(curve_cents + amount * levers[0].shape).max())
    amounts = minimax(np.column_stack([one.shape for one in levers]), -curve_cents).coefficients
    return _within_bounds(curve_cents, levers, amounts)


def _within_bounds(curve_cents: Array, levers: list[Lever], free: Array) -> tuple[Array, float]:
    """The best amounts with every trimmer's ends kept, from the best without.

    The way from the bounded to the free optimum leaves the box through an end that the free one
    oversteps, so at least one of those trimmers stands at its end: each is tried.
    """
    best, left = free, np.inf
    for k, lever in enumerate(levers):
        pinned = min(max(float(free[k]), lever.low), lever.high)
        if abs(pinned - float(free[k])) <= _LEAST_RISE:
            continue
        rest = [*levers[:k], *levers[k + 1 :]]
        amounts, trial = best_amounts(curve_cents + pinned * lever.shape, rest)
        if trial < left:
            best, left = np.insert(amounts, k, pinned), trial
    if np.isfinite(left):
        return best, left
    shapes = np.column_stack([lever.shape for lever in levers])
    return free, float(np.abs(curve_cents + shapes @ free).max())


def _one_amount(curve_cents: Array, shape: Array) -> float:
    """The best amount of one trimmer: where two notes' errors are of one size, by trying them all.

    A note at the pivot itself, which the trimmer does not move, needs no special care here.
    """
    i, j = np.triu_indices(len(curve_cents), 1)
    rise = np.concatenate([shape[i] - shape[j], shape[i] + shape[j]])
    gap = np.concatenate([curve_cents[i] - curve_cents[j], curve_cents[i] + curve_cents[j]])
    moves = np.abs(rise) > _LEAST_RISE * max(float(np.abs(shape).max()), 1e-300)
    if not moves.any():
        return 0.0
    amounts = -gap[moves] / rise[moves]
    greatest = np.abs(curve_cents + amounts[:, None] * shape).max(axis=1)
    return float(amounts[int(greatest.argmin())])


def greatest_left(curve_cents: Array, guard_cents: Array, rest: list[Lever]) -> float:
    """Smallest greatest |error| + guard that the other trimmers can still reach."""
    if not rest:
        return float((np.abs(curve_cents) + guard_cents).max())
    if len(rest) == 1 and rest[0].trimmer.trimmer_kind.is_base and not np.isfinite(rest[0].low):
        top = float((curve_cents + guard_cents).max())
        return 0.5 * (top - float((curve_cents - guard_cents).min()))
    return best_amounts(curve_cents, rest)[1] + float(guard_cents.max())


def room(
    curve_cents: Array, guard_cents: Array, lever: Lever, rest: list[Lever], tolerance_cents: float
) -> Room:
    """How much of ``lever`` to move, and how exactly, given what the rest can do afterwards."""
    amounts, _ = best_amounts(curve_cents, [lever, *rest])
    best = float(amounts[0])

    def left(amount: float) -> float:
        return greatest_left(curve_cents + amount * lever.shape, guard_cents, rest)

    if left(best) > tolerance_cents:
        return Room(best, best, best, fits=False)
    step = tolerance_cents / max(float(np.abs(lever.shape - lever.shape.mean()).max()), 0.2)
    ends = []
    for sign, bound in ((-1.0, lever.low), (1.0, lever.high)):
        end = _end_of_room(left, best, best + sign * 4.0 * step, tolerance_cents)
        ends.append(max(end, bound) if sign < 0 else min(end, bound))
    return Room(0.5 * (ends[0] + ends[1]), ends[0], ends[1], fits=True)


def _end_of_room(
    left: Callable[[float], float], inside: float, outside: float, tolerance_cents: float
) -> float:
    """The amount on the way outside at which the tolerance is used up, on the safe side.

    What is left is convex in the amount, so the chord between a point inside and one outside is
    never below it: where the chord meets the tolerance is still inside.
    """
    good, bad = left(inside), left(outside)
    if bad <= tolerance_cents:
        return outside
    for _ in range(_MOST_CHORDS):
        if tolerance_cents - good < _CLOSE_CENTS:
            break
        inside += (outside - inside) * (tolerance_cents - good) / (bad - good)
        good = left(inside)
    return inside
