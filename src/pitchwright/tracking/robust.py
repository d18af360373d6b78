"""Which readings look like mistakes: a wrong key, a bumped knob, a glide taken for a note.

A least-absolute-error fit of base, scale and high end is hardly moved by a few wild readings; what
lies far from it against the usual distance is named. Nothing is dropped here: the fit leaves named
readings out, the curve and the reach keep them.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.tracking.readings import Readings

__all__ = ["far_off"]

_TIMES_USUAL: Final = 8.0
_LEAST_CENTS: Final = 3.0
"""Closer than this is a fault of tuning, not a mistake (a judgement of ours)."""
_MOST_SHARE: Final = 0.2
_FEWEST_NOTES: Final = 5


def far_off(readings: Readings) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
    """Find readings far from the shape of the others.

    Returns
    -------
    mask : ndarray
        Which readings, shape (n,). None where fewer than five notes were played, or where more
        than a fifth would be named: then no shape is sure enough to call the rest wrong.
    distance_cents : ndarray
        How far each lies from the shape of the others, shape (n,).
    """
    none = np.zeros(len(readings.cents), dtype=np.bool_)
    if readings.notes_played < _FEWEST_NOTES:
        return none, np.zeros(len(none))
    columns = [np.ones_like(readings.cv_v), readings.cv_v - readings.cv_v.mean()]
    if readings.notes_played > _FEWEST_NOTES:
        columns.append(readings.f_hz / 1000.0)
    a = np.column_stack(columns)
    distance = readings.cents - a @ _least_absolute(a, readings.cents)
    # The fit passes through as many readings as it has columns: their zero distance says nothing.
    usual = 1.4826 * float(np.median(np.sort(np.abs(distance))[a.shape[1] :]))
    limit = np.maximum(max(_TIMES_USUAL * usual, _LEAST_CENTS), 6.0 * readings.u_cents)
    mask = np.abs(distance) > limit
    named = len(np.unique(readings.note[mask]))
    return (none if named > _MOST_SHARE * readings.notes_played else mask), distance


def _least_absolute(a: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """Least sum of absolute errors, by reweighted least squares."""
    x = np.linalg.lstsq(a, y, rcond=None)[0]
    floor = 1.0
    for _ in range(60):
        root = 1.0 / np.sqrt(np.maximum(np.abs(y - a @ x), floor))
        x = np.linalg.lstsq(a * root[:, None], y * root, rcond=None)[0]
        floor = max(0.7 * floor, 1e-4)
    return np.asarray(x, dtype=np.float64)
