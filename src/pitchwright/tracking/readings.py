"""Points as arrays: what the fit works on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.tracking.point import Point
from pitchwright.tracking.target import TargetCurve
from pitchwright.units import cents_between, note_to_hz

__all__ = ["Readings"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """Readings that count, as arrays of shape (n,), in the order given.

    Attributes
    ----------
    note, cv_v, f_hz, u_cents, t_s
        As in ``Point``.
    cents
        Away from the target.
    """

    note: Array
    cv_v: Array
    f_hz: Array
    u_cents: Array
    t_s: Array
    cents: Array

    @classmethod
    def of(cls, points: Sequence[Point], target: TargetCurve) -> Readings:
        """Take the kept points.

        Raises
        ------
        InputError
            Where none is kept, one cannot be (frequency not above zero, uncertainty negative, a
            number missing), or the target does not cover a note.
        """
        kept = [point for point in points if point.kept]
        if not kept:
            raise InputError(
                "No reading can be used", do="Play at least one note and let it settle"
            )
        for p in kept:
            numbers = (p.note, p.cv_v, p.f_hz, p.u_cents, p.t_s)
            if not all(math.isfinite(x) for x in numbers) or p.f_hz <= 0.0 or p.u_cents < 0.0:
                raise InputError(
                    f"A reading at {p.cv_v:g} V has no usable numbers "
                    f"({p.f_hz:g} Hz ± {p.u_cents:g} cents)",
                    do="Frequencies must be above zero and uncertainties not negative",
                )
        note, cv_v, f_hz, u_cents, t_s = (
            np.array([getattr(p, field) for p in kept], dtype=np.float64)
            for field in ("note", "cv_v", "f_hz", "u_cents", "t_s")
        )
        wanted = np.array([target.cents_at(float(n)) for n in note])
        return cls(note, cv_v, f_hz, u_cents, t_s, cents_between(f_hz, note_to_hz(note)) - wanted)

    def where(self, mask: NDArray[np.bool_]) -> Readings:
        """Only the readings that ``mask`` (n,) chooses."""
        return Readings(
            self.note[mask],
            self.cv_v[mask],
            self.f_hz[mask],
            self.u_cents[mask],
            self.t_s[mask],
            self.cents[mask],
        )

    @property
    def notes_played(self) -> int:
        """How many distinct notes."""
        return len(np.unique(self.note))
