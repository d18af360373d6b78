"""Keys that were not played: within what all of them lie, together.

A key that was not played lies on the model, off it by a bump of its own: the source's step and the
converter's. How large bumps are is known from the notes that were played, and as well as these tell
it: all sizes are averaged with their weights. Played keys count as they were read. The statement is
joint: every key at once, not each.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import ndtr

from pitchwright.tracking.course import Course
from pitchwright.tracking.coverage import K2
from pitchwright.tracking.curve import CurveEntry
from pitchwright.tracking.model import TermState, TrackingModel
from pitchwright.units import note_name

__all__ = ["AllKeys", "all_keys"]

Array = NDArray[np.float64]

_FEWEST_NOTES: Final = 4


@dataclass(frozen=True, slots=True)
class AllKeys:
    """All keys from the lowest to the highest played, those between included.

    Attributes
    ----------
    low, high
        First and last key.
    keys, played
        How many there are, and how many of them were played.
    within_cents
        Every one lies within this of the target, with 95.45 % probability.
    """

    low: float
    high: float
    keys: int
    played: int
    within_cents: float

    @property
    def sentence(self) -> str:
        """The statement in words."""
        return (
            f"With 95 % confidence all {self.keys} keys from {note_name(self.low)} to "
            f"{note_name(self.high)} lie within ±{self.within_cents:.1f} cents, the "
            f"{self.keys - self.played} that were not played included."
        )


def all_keys(
    entries: Sequence[CurveEntry], model: TrackingModel, course: Course, u_common_cents: float = 0.0
) -> AllKeys | None:
    """Say within what all keys lie together; None from too few notes, or where all were played.

    Parameters
    ----------
    entries
        The notes that do not look like mistakes, ascending.
    model, course
        What was made of them.
    u_common_cents
        Standard uncertainty common to all, the clock's.
    """
    if len(entries) < _FEWEST_NOTES or model.scale.value is None:
        return None
    low, high = entries[0].note, entries[-1].note
    between = np.array(
        [k for k in np.arange(low, high + 0.5) if k not in {e.note for e in entries}]
    )
    if not len(between):
        return None
    smooth = np.array([model.cents_at(float(key)) for key in between])
    u_smooth = np.hypot(_u_of_model(model, between), u_common_cents)
    played = np.array([entry.cents for entry in entries])
    u_played = np.hypot([entry.u_cents for entry in entries], u_common_cents)
    squares, place = np.unique(course.ways.bump_square, return_inverse=True)
    weight = np.bincount(place, weights=course.ways.weight)

    def together(x: float) -> float:
        """Probability that all lie within ±x."""
        surely = _inside(x, played, u_played).prod()
        spread = np.sqrt(u_smooth**2 + squares[:, None])
        return float(surely * (weight @ _inside(x, smooth, spread).prod(axis=1)))

    most = float(max(np.abs(played).max(), np.abs(smooth).max())) + 1e-3
    while together(most) < K2 and most < 1e5:
        most *= 1.5
    x = float(brentq(lambda x: together(x) - K2, 0.0, most, xtol=1e-4))
    return AllKeys(low, high, len(between) + len(entries), len(entries), x)


def _inside(x: float, cents: Array, u: Array) -> Array:
    return np.asarray(ndtr((x - cents) / u) - ndtr((-x - cents) / u))


def _u_of_model(model: TrackingModel, notes: Array) -> Array:
    """Standard uncertainty of the model's line at notes, from the covariance of its terms."""
    v = (notes - model.ref_note) / 12.0
    f_hz = model.f_ref_hz * np.exp2(v)
    column = {
        "base": np.ones_like(v),
        "scale": v,
        # Cents per nanosecond, to first order: 1200 / ln 2 · 1e-9 · f.
        "high": -1200.0 / np.log(2.0) * 1e-9 * (f_hz - model.f_ref_hz),
        "low": 1.0 / f_hz - 1.0 / model.f_ref_hz,
    }
    kept = [name for name in model.names if _kept(model, name)]
    rows = np.column_stack([column[name] for name in kept])
    pick = [model.names.index(name) for name in kept]
    covariance = model.covariance[np.ix_(pick, pick)]
    return np.asarray(np.sqrt(np.maximum(np.einsum("ki,ij,kj->k", rows, covariance, rows), 0.0)))


def _kept(model: TrackingModel, name: str) -> bool:
    return any(term.name == name and term.state is TermState.KEPT for term in model.terms)
