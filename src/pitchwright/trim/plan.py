"""Which trimmer next: the fewest visits that can still bring the curve inside the tolerance.

Candidates are one trimmer or none of each way of shifting the curve: the high end, the scale, the
base, always in the order of their table, because each shifts what the later ones must take out. The
set with the fewest visits to expect wins: one that leaves little room for uncertainty and hand may
be made in vain and need another plan. Where none leaves room, it is the cheapest that comes as near
as any.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from pitchwright.trim.aim import Lever, best_amounts, room
from pitchwright.trim.pivot import PivotDensity

__all__ = ["Next", "Planned", "plan", "turning_index"]

Array = NDArray[np.float64]

_HAND_CENTS = 0.12
"""What a hand with patience comes within; asking for less does not end."""
_WORTH_CENTS = 0.12
"""A visit that gains less than this is not worth a person's time."""
_INSIDE_COST, _IN_HAND_COST = 1.5, 0.3
_EVEN_CENTS = 0.06
_LEAST_ARM = 0.3
_COARSE_FROM_CENTS = 60.0
_NARROWEST_CENTS, _WIDEST_CENTS, _WIDEST_SCALE_CENTS = 0.12, 0.25, 0.8
_WIDEST_SHARE = 0.13


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


@dataclass(frozen=True, slots=True, eq=False)
class _Tried:
    """A set of trimmers: amounts, visits they cost, error they leave, and what that leaves free."""

    subset: list[Lever]
    amounts: Array
    cost: float
    left: float
    slack: float

    @property
    def p_fails(self) -> float:
        """Roughly how often the hand will not bring it inside: even odds where a little is short.

        Guard and hand are taken at their worst in the slack, so a set that is short of it by a
        hundredth still does it mostly, and another visit for that hundredth is wasted.
        """
        return 1.0 / (1.0 + math.exp(min((self.slack + _EVEN_CENTS) / (0.5 * _EVEN_CENTS), 50.0)))


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
    groups = _groups(levers)
    now = float(np.abs(curve_cents).max())
    tried: list[_Tried] = []
    for each in product(*([None, *group] for group in groups)):
        subset = [lever for lever in each if lever is not None]
        amounts, left = best_amounts(curve_cents, subset)
        if any(
            _too_far_for_fine(lever, a, levers) for lever, a in zip(subset, amounts, strict=True)
        ):
            continue
        slack = tolerance_cents - left - float(guard_cents.max()) - _margin(subset, amounts)
        cost = _visits(subset, in_hand)
        tried.append(_Tried(subset, amounts, cost, left + _steps(subset), slack))
    best = min(tried, key=lambda t: (round(t.left, 3), t.cost))
    fitting = [t.cost for t in tried if t.slack >= 0.0]
    if fitting:
        again = 1.0 + min(fitting)
        chosen_set = min(tried, key=lambda t: (t.cost + again * t.p_fails, t.left))
        subset, amounts, fits = chosen_set.subset, chosen_set.amounts, chosen_set.slack >= 0.0
    else:
        near = [t for t in tried if t.left <= best.left + 0.03]
        chosen_set = min(near, key=lambda t: (t.cost, t.left))
        subset, amounts, fits = chosen_set.subset, chosen_set.amounts, False
        if subset and now - chosen_set.left < _WORTH_CENTS:
            subset = []
    ideal = best_amounts(curve_cents, best.subset)[1]
    if not subset:
        return Planned(None, 0, fits, ideal, tuple(best.subset))
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
        best_levers=tuple(best.subset),
    )


def _groups(levers: list[Lever]) -> list[list[Lever]]:
    """One group for each way of shifting the curve, in the order in which they are turned.

    In a group the finer comes first: what it can do it does more easily.
    """

    def place(lever: Lever) -> tuple[int, bool]:
        entry = lever.trimmer.trimmer_kind.entry
        return entry.order, entry.far

    groups: list[list[Lever]] = []
    for lever in sorted(levers, key=place):
        kind = lever.trimmer.trimmer_kind
        for group in groups:
            if kind.acts_like(group[0].trimmer.trimmer_kind):
                group.append(lever)
                break
        else:
            groups.append([lever])
    return groups


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
    widest = _WIDEST_SCALE_CENTS
    if lever.trimmer.trimmer_kind.is_base:  # the last: what it leaves is left for good
        widest = min(max(_WIDEST_CENTS, _WIDEST_SHARE * tolerance_cents), _WIDEST_SCALE_CENTS)
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


def _visits(subset: list[Lever], in_hand: str) -> float:
    """What a set costs; going on with the trimmer in hand is cheap only before it is left."""
    return sum(
        _IN_HAND_COST
        if k == 0 and lever.trimmer.name == in_hand
        else 1.0 + _INSIDE_COST * lever.trimmer.inside
        for k, lever in enumerate(subset)
    )


def _too_far_for_fine(lever: Lever, amount: float, levers: list[Lever]) -> bool:
    """Whether a fine base trimmer is asked for what a coarse one is there to do."""
    return (
        lever.trimmer.trimmer_kind.is_base
        and not lever.trimmer.trimmer_kind.entry.far
        and abs(amount) > _COARSE_FROM_CENTS
        and any(
            other.trimmer.trimmer_kind.is_base and other.trimmer.trimmer_kind.entry.far
            for other in levers
        )
    )


def turning_index(cv_v: Array, pivot: PivotDensity) -> int:
    """Note at which a scale trimmer moves the reading most: an end of the range.

    Over all pivots that may be; but never the end that the likeliest of them hardly moves, since
    the aim there would be no change at all.

    Parameters
    ----------
    cv_v
        Control voltages of the notes, shape (n,).
    pivot
        What is believed of the pivot.
    """
    ends = (0, len(cv_v) - 1)
    arm = [float(pivot.weight @ np.abs(cv_v[end] - pivot.pivot_v)) for end in ends]
    likeliest = [abs(float(cv_v[end]) - pivot.best_v) for end in ends]
    far = int(arm[1] >= arm[0])
    if likeliest[far] < _LEAST_ARM * likeliest[1 - far]:
        far = 1 - far
    return ends[far]
