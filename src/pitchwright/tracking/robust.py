"""Which readings look like mistakes: a wrong key, a bumped knob, a glide taken for a note.

A least-absolute-error fit of base, scale and high end is hardly moved by a few wild readings; what
lies far from it against the usual distance is named. The lowest and the highest note have a pull of
their own on that fit, so each is also held against what the others foretell. Nothing is dropped
here: the fit leaves named notes out, the curve and the reach keep them. Where one visit to a note
is far and another is not, nothing is named: what happened in between is for ``course`` to tell.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.tracking.knee import knee_after
from pitchwright.tracking.readings import Readings

__all__ = ["far_off"]

_TIMES_USUAL: Final = 8.0
_LEAST_CENTS: Final = 3.0
"""Closer than this is a fault of tuning, not a mistake (a judgement of ours)."""
_MOST_SHARE: Final = 0.2
_FEWEST_NOTES: Final = 5
_FEWEST_OF_A_KNEE: Final = 2
_LEAST_SPREAD: Final = 0.3
_TIMES_FORETOLD: Final = 6.0
_C1_KHZ: Final = 0.0327


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
    if not mask.any():
        for end in (readings.note.min(), readings.note.max()):
            astray, off = _astray_at_an_end(readings, readings.note == end)
            if astray:
                mask = readings.note == end
                distance = np.where(mask, off, distance)
    notes = [note for note in np.unique(readings.note) if mask[readings.note == note].all()]
    if notes and _has_a_knee(readings):
        notes = []
    mask = np.isin(readings.note, notes)
    return (none if len(notes) > _MOST_SHARE * readings.notes_played else mask), distance


def _has_a_knee(readings: Readings) -> bool:
    """Whether the topmost notes, two at least, run away together: no mistake, then."""
    notes = np.unique(readings.note)
    cents = np.array([np.median(readings.cents[readings.note == note]) for note in notes])
    cv_v = np.array([readings.cv_v[readings.note == note].mean() for note in notes])
    knee = knee_after(cv_v, cents)
    return knee is not None and knee[0] <= len(notes) - _FEWEST_OF_A_KNEE


def _astray_at_an_end(readings: Readings, here: NDArray[np.bool_]) -> tuple[bool, float]:
    """Whether an end note lies where the others, with all that bends a curve, do not foretell."""
    others = ~here
    khz = readings.f_hz / 1000.0
    a = np.column_stack([np.ones_like(khz), readings.cv_v, khz, _C1_KHZ / khz])
    prior = 1.0 / np.array([300.0, 60.0, 3.0, 3.0]) ** 2
    spread = _LEAST_SPREAD
    for _ in range(3):
        weight = 1.0 / spread**2
        inverse = np.linalg.inv(np.diag(prior) + weight * a[others].T @ a[others])
        x = inverse @ (weight * a[others].T @ readings.cents[others])
        left = readings.cents[others] - a[others] @ x
        spread = max(_LEAST_SPREAD, float(np.sqrt((left**2).mean())))
    row = a[here].mean(axis=0)
    off = float(np.median(readings.cents[here]) - row @ x)
    foretold = float(np.sqrt(row @ inverse @ row))
    limit = max(_LEAST_CENTS, _TIMES_USUAL * spread, _TIMES_FORETOLD * foretold)
    return abs(off) > limit, off


def _least_absolute(a: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """Least sum of absolute errors, by reweighted least squares."""
    x = np.linalg.lstsq(a, y, rcond=None)[0]
    floor = 1.0
    for _ in range(60):
        root = 1.0 / np.sqrt(np.maximum(np.abs(y - a @ x), floor))
        x = np.linalg.lstsq(a * root[:, None], y * root, rcond=None)[0]
        floor = max(0.7 * floor, 1e-4)
    return np.asarray(x, dtype=np.float64)
