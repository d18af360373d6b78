"""Which trimmer next: the fewest visits that can still bring the curve inside the tolerance.

Candidates are a high-end trimmer or none, a scale trimmer (or trimmed output) or none, a base
trimmer or none, always in that order, because each shifts what the later ones must take out. The
cheapest set that leaves room for uncertainty and hand wins; where none does, the cheapest that
comes as near as any.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from pitchwright.trim.aim import Lever, best_amounts, room
from pitchwright.trim.trimmer import TrimmerKind

__all__ = ["Next", "Planned", "plan", "turning_index"]

Array = NDArray[np.float64]

_HAND_CENTS = 0.12
"""What a hand with patience comes within; asking for less does not end."""
_WORTH_CENTS = 0.12
"""A visit that gains less than this is not worth a person's time."""
_INSIDE_COST, _IN_HAND_COST = 1.5, 0.3
_COARSE_FROM_CENTS = 60.0
_NARROWEST_CENTS, _WIDEST_CENTS, _WIDEST_SCALE_CENTS = 0.12, 0.4, 0.8


@dataclass(frozen=True, slots=True, eq=False)
class Next:
    """One visit.

    Attributes
    ----------
    lever
        Which trimmer.
    amount
        How much of it, in the unit of its kind.
    index
        Note to turn at.
    shift_cents
        Change of the reading there.
    window_cents
        Half width within which it may stop.
    rest
        Trimmers to be moved afterwards.
    """

    lever: Lever
    amount: float
    index: int
    shift_cents: float
    window_cents: float
    rest: tuple[Lever, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Planned:
    """The next visit, if one is worth it, and what can be reached in all.

    Attributes
    ----------
    next
        The visit, or None where no visit gains anything worth it.
    visits
        How many visits the plan has.
    fits
        Whether the plan ends inside the tolerance, guard and hand included.
    best_cents
        Smallest greatest error that all trimmers together could leave.
    best_levers
        The trimmers that reach it.
    """

    next: Next | None
    visits: int
    fits: bool
    best_cents: float
    best_levers: tuple[Lever, ...]


def plan(
    curve_cents: Array,
    guard_cents: Array,
    levers: list[Lever],
    tolerance_cents: float,
    turn_at: dict[str, int],
    in_hand: str = "",
) -> Planned:
    """Choose the next visit.

    Parameters
    ----------
    curve_cents
        Errors from the target at each note, shape (n,).
    guard_cents
        What uncertainty takes from the tolerance at each note, shape (n,).
    levers
        The trimmers that may be moved.
    tolerance_cents
        Half width of what is in tune.
    turn_at
        The note index to turn each trimmer at, by name.
    in_hand
        The trimmer that the screwdriver is in: to go on with it costs little.
    """
    groups = [
        [lever for lever in levers if lever.trimmer.trimmer_kind is TrimmerKind.HIGH_END],
        [lever for lever in levers if lever.trimmer.trimmer_kind.is_scale],
        [lever for lever in levers if lever.trimmer.trimmer_kind.is_base],
    ]
    now = float(np.abs(curve_cents).max())
    tried: list[tuple[float, float, bool, list[Lever], Array]] = []
    for each in product(*([None, *group] for group in groups)):
        subset = [lever for lever in each if lever is not None]
        amounts, left = best_amounts(curve_cents, subset)
        if any(
            _too_far_for_fine(lever, a, levers) for lever, a in zip(subset, amounts, strict=True)
        ):
            continue
        cost = sum(
            _IN_HAND_COST
            if lever.trimmer.name == in_hand
            else 1.0 + _INSIDE_COST * lever.trimmer.inside
            for lever in subset
        )
        margin = _margin(subset, amounts)
        fits = left + float(guard_cents.max()) + margin <= tolerance_cents
        tried.append((cost, left + _steps(subset), fits, subset, amounts))
    best = min(tried, key=lambda t: (round(t[1], 3), t[0]))
    fitting = [t for t in tried if t[2]]
    if fitting:
        cost, _, fits, subset, amounts = min(fitting, key=lambda t: (t[0], t[1]))
    else:
        near = [t for t in tried if t[1] <= best[1] + 0.03]
        cost, left, fits, subset, amounts = min(near, key=lambda t: (t[0], t[1]))
        if subset and now - left < _WORTH_CENTS:
            subset = []
    ideal = best_amounts(curve_cents, best[3])[1]
    if not subset:
        return Planned(None, 0, fits, ideal, tuple(best[3]))
    chosen = _next(curve_cents, guard_cents, subset, amounts, tolerance_cents, turn_at)
    while (
        chosen is not None and abs(chosen.shift_cents) <= chosen.window_cents
    ):  # it stands as near as can be asked for: on to the others
        subset, amounts = subset[1:], amounts[1:]
        chosen = _next(curve_cents, guard_cents, subset, amounts, tolerance_cents, turn_at)
    return Planned(
        next=chosen,
        visits=len(subset),
        fits=fits,
        best_cents=ideal,
        best_levers=tuple(best[3]),
    )


def _next(
    curve_cents: Array,
    guard_cents: Array,
    subset: list[Lever],
    amounts: Array,
    tolerance_cents: float,
    turn_at: dict[str, int],
) -> Next | None:
    """The first visit of a set: amount, note, window."""
    if not subset:
        return None
    lever, rest = subset[0], subset[1:]
    index = turn_at[lever.trimmer.name]
    margin = _margin(rest, amounts[1:]) if rest else 0.0
    space = room(curve_cents, guard_cents, lever, rest, tolerance_cents - margin)
    shape = float(lever.shape[index])
    half = 0.5 * (space.high - space.low) * abs(shape)
    widest = _WIDEST_CENTS if lever.trimmer.trimmer_kind.is_base else _WIDEST_SCALE_CENTS
    window = min(max(half, _NARROWEST_CENTS), widest) if space.fits else 2.0 * _NARROWEST_CENTS
    window = max(window, 0.5 * lever.trimmer.resolution_cents)
    return Next(lever, space.amount, index, space.amount * shape, window, tuple(rest))


def _margin(subset: list[Lever], amounts: Array) -> float:
    """What hand, resolution and an unknown pivot add to the error after this set of visits."""
    margin = _HAND_CENTS if subset else 0.0
    has_base = any(lever.trimmer.trimmer_kind.is_base for lever in subset)
    for lever, amount in zip(subset, amounts, strict=True):
        if not lever.trimmer.trimmer_kind.is_base and not has_base:
            margin += 2.0 * lever.u_shape * abs(float(amount))
    return margin + _steps(subset)


def _steps(subset: list[Lever]) -> float:
    """What resolution adds: half a step of the last trimmer, half of that where base follows."""
    has_base = any(lever.trimmer.trimmer_kind.is_base for lever in subset)
    return sum(
        (0.25 if has_base and not lever.trimmer.trimmer_kind.is_base else 0.5)
        * lever.trimmer.resolution_cents
        for lever in subset
    )


def _too_far_for_fine(lever: Lever, amount: float, levers: list[Lever]) -> bool:
    """Whether a fine base trimmer is asked for what a coarse one is there to do."""
    return (
        lever.trimmer.trimmer_kind is TrimmerKind.BASE_FINE
        and abs(amount) > _COARSE_FROM_CENTS
        and any(other.trimmer.trimmer_kind is TrimmerKind.BASE_COARSE for other in levers)
    )


def turning_index(cv_v: Array, pivot_v: Array, weight: Array) -> int:
    """Note at which a scale trimmer moves the reading most: an end of the range.

    Parameters
    ----------
    cv_v
        Control voltages of the notes, shape (n,).
    pivot_v, weight
        What is believed of the pivot, shape (m,) each.
    """
    ends = (0, len(cv_v) - 1)
    arm = [float(weight @ np.abs(cv_v[end] - pivot_v)) for end in ends]
    return ends[int(arm[1] >= arm[0])]
