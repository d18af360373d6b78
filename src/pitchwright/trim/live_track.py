"""What the live readings of one turn tell before any other note is played."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["gap_about", "jump_cents", "went_wrong_way"]

Array = NDArray[np.float64]

_LIVE_NOISE_CENTS = 0.12
"""What live readings scatter by while nothing is turned (they are short)."""
_WRONG_WAY_CENTS = 0.5
_JUMP_CENTS = 1.2
_LEAST_GAP_CENTS = 1.0


def went_wrong_way(cents: Array, start_cents: float, aim_cents: float) -> bool:
    """Whether the reading first moved away from the aim.

    Counted from where it stood when the hand began, which drift may have moved since the reading
    that the aim was made from.

    Parameters
    ----------
    cents
        Live readings in order, shape (n,).
    start_cents, aim_cents
        Reading before the turn, and the aim: they tell which way was meant.
    """
    if len(cents) < 3:
        return False
    towards = (cents - float(cents[:2].mean())) * np.sign(aim_cents - start_cents)
    away = np.flatnonzero(towards < -_WRONG_WAY_CENTS)
    arrived = np.flatnonzero(towards > _WRONG_WAY_CENTS)
    return bool(len(away)) and (not len(arrived) or away[0] < arrived[0])


def jump_cents(cents: Array) -> float | None:
    """Size of the one step that stands out: a knob was knocked, no screw turns like that.

    None where no step does, or several do (a trimmer that moves in steps).
    """
    if len(cents) < 5:
        return None
    steps = np.diff(cents)
    outlying: list[float] = []
    for k in np.flatnonzero(np.abs(steps) > _JUMP_CENTS).tolist():
        near = np.delete(steps[max(0, k - 3) : k + 4], min(k, 3))
        usual = float(np.median(near))
        spread = float(np.abs(near - usual).max())
        if abs(steps[k] - usual) > max(_JUMP_CENTS, 2.5 * spread):
            outlying.append(float(steps[k]) - usual)
    return outlying[0] if len(outlying) == 1 else None


def gap_about(tracks: list[Array], aim_cents: float) -> float | None:
    """Gap about the aim between two levels that the reading hops to and fro, in cents.

    A smooth trimmer passes through and stands now here, now there; one with steps stands at the
    same two levels time and again. None where it was not on each of two levels twice at least.
    """
    cents = np.concatenate(tracks)
    below, above = cents[cents < aim_cents], cents[cents >= aim_cents]
    if len(below) < 4 or len(above) < 4:
        return None
    slack = 3.0 * _LIVE_NOISE_CENTS
    low = float(np.median(below[below > below.max() - 1.5 * slack]))
    high = float(np.median(above[above < above.min() + 1.5 * slack]))
    if high - low < _LEAST_GAP_CENTS:
        return None
    near = cents[(cents > low - slack) & (cents < high + slack)]
    at = np.where(np.abs(near - low) < slack, -1, np.where(np.abs(near - high) < slack, 1, 0))
    if (at == 0).any():
        return None
    stays = np.split(at, np.flatnonzero(np.diff(at)) + 1)
    times = [sum(1 for stay in stays if stay[0] == side) for side in (-1, 1)]
    return high - low if min(times) >= 2 else None
