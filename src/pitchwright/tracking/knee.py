"""A knee: a curve that follows a line up to some note and from there on goes away one way."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.tracking.minimax import minimax

__all__ = ["knee_after"]

_FEWEST_BELOW: Final = 4
_LINE_CENTS: Final = 1.5
_AWAY_CENTS: Final = 4.0


def knee_after(
    cv_v: NDArray[np.float64], cents: NDArray[np.float64], u_cents: float = 0.0
) -> tuple[int, float] | None:
    """Where a curve leaves its line, or None where it has no knee.

    Parameters
    ----------
    cv_v, cents
        The curve, ascending, shape (n,).
    u_cents
        What the notes are unsure by: a line may miss them by as much.

    Returns
    -------
    count, top_cents
        How many notes follow the line, at least four, and how far the topmost lies from it.
    """
    for count in range(len(cents) - 1, _FEWEST_BELOW - 1, -1):
        columns = np.column_stack([np.ones(len(cv_v)), cv_v])
        line = minimax(columns[:count], cents[:count])
        if line.max_error > max(_LINE_CENTS, u_cents):
            continue
        off = cents[count:] - columns[count:] @ line.coefficients
        one_way = (np.sign(off) == np.sign(off[-1])).all() and (np.diff(np.abs(off)) > 0.0).all()
        return (count, float(off[-1])) if one_way and abs(off[-1]) > _AWAY_CENTS else None
    return None
