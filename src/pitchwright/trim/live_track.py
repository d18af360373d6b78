"""What the live readings of one turn tell before any other note is played."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["gap_about", "jumped", "went_wrong_way"]

Array = NDArray[np.float64]

_LIVE_NOISE_CENTS = 0.12
"""What live readings scatter by while nothing is turned (they are short)."""
_WRONG_WAY_CENTS = 0.6
_JUMP_CENTS = 1.2
_LEAST_GAP_CENTS = 1.0


def went_wrong_way(cents: Array, start_cents: float, aim_cents: float) -> bool:
    """Whether the reading first moved away from the aim.

    Parameters
    ----------
    cents
        Live readings in order, shape (n,).
    start_cents, aim_cents
        Reading before the turn, and the aim.
    """
    towards = (cents - start_cents) * np.sign(aim_cents - start_cents)
    away = np.flatnonzero(towards < -_WRONG_WAY_CENTS)
    arrived = np.flatnonzero(towards > _WRONG_WAY_CENTS)
    return bool(len(away)) and (not len(arrived) or away[0] < arrived[0])


def jumped(cents: Array) -> bool:
    """Whether exactly one step stands out: a knob was knocked, no screw turns like that."""
    if len(cents) < 5:
        return False
    steps = np.diff(cents)
    sizes = np.abs(steps)
    outlying = []
    for k in np.flatnonzero(sizes > _JUMP_CENTS):
        near = np.delete(steps[max(0, k - 3) : k + 4], min(k, 3))
        usual = float(np.median(near))
        spread = float(np.abs(near - usual).max())
        if abs(steps[k] - usual) > max(_JUMP_CENTS, 2.5 * spread):
            outlying.append(int(k))
    return len(outlying) == 1


def gap_about(tracks: list[Array], aim_cents: float) -> float | None:
    """Gap about the aim that the readings crossed time and again and never stood in, in cents.

    A smooth trimmer passes through; one with steps cannot. None where there is no such gap, or
    fewer than two crossings.
    """
    cents = np.concatenate(tracks)
    below, above = cents[cents < aim_cents], cents[cents >= aim_cents]
    crossings = sum(
        int((np.diff(np.sign(track - aim_cents + 1e-9)) != 0).sum()) for track in tracks
    )
    if crossings < 2 or not len(below) or not len(above):
        return None
    gap = float(above.min() - below.max()) + _LIVE_NOISE_CENTS
    return gap if gap > _LEAST_GAP_CENTS else None
