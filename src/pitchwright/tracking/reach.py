"""Reach: the widest run of notes that stays inside a tolerance, uncertainty included.

A note conforms where |error| + U ≤ tolerance (guard band; U covers 95.45 %). Only notes that were
measured count: a run is broken by a measured note that does not conform, and nothing is claimed
about what lies between two measured notes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pitchwright.tracking.coverage import coverage_factor
from pitchwright.tracking.curve import CurveEntry
from pitchwright.units import note_name

__all__ = ["Reach", "reach"]


@dataclass(frozen=True, slots=True)
class Reach:
    """The widest run of conforming notes at one tolerance.

    Attributes
    ----------
    tolerance_cents
        Tolerance, either way.
    low, high
        First and last note of the run; None where no note conforms.
    notes
        How many measured notes it holds.
    widest_gap
        Most semitones between neighbours in it: what lies between is not claimed.
    whole
        Whether it holds every note measured.
    ends
        What stops it, as a sentence; empty where it holds every note.
    """

    tolerance_cents: float
    low: float | None
    high: float | None
    notes: int
    widest_gap: float
    whole: bool
    ends: str

    @property
    def sentence(self) -> str:
        """The reach in words."""
        within = f"±{self.tolerance_cents:g} cent{'' if self.tolerance_cents == 1.0 else 's'}"
        if self.low is None or self.high is None:
            return f"Within {within}: no note for certain. {self.ends}".strip()
        if self.low == self.high:
            where = f"{note_name(self.low)} only"
        else:
            where = f"{note_name(self.low)} to {note_name(self.high)}"
        return f"Within {within}: {where}. {self.ends}".strip()


def reach(
    entries: Sequence[CurveEntry], tolerance_cents: float, common_u_cents: float = 0.0
) -> Reach:
    """Find the widest run of notes that conform.

    Parameters
    ----------
    entries
        A tracking curve, ascending; at least one note.
    tolerance_cents
        Greatest allowed error either way, above zero.
    common_u_cents
        Standard uncertainty common to all notes (the clock's), added to each.
    """
    sure = [_expanded(entry, common_u_cents) for entry in entries]
    conform = [
        abs(entry.cents) + u <= tolerance_cents for entry, u in zip(entries, sure, strict=True)
    ]
    best: tuple[float, int, int] | None = None
    start = None
    for i, ok in enumerate([*conform, False]):
        if ok and start is None:
            start = i
        elif not ok and start is not None:
            width = entries[i - 1].note - entries[start].note
            if best is None or (width, i - start) > (best[0], best[2] - best[1]):
                best = (width, start, i)
            start = None
    if best is None:
        nearest = min(range(len(entries)), key=lambda i: abs(entries[i].cents) + sure[i])
        ends = f"The nearest is {_figure(entries[nearest], sure[nearest])}."
        return Reach(tolerance_cents, None, None, 0, 0.0, False, ends)
    _, first, stop = best
    run = entries[first:stop]
    outside = [i for i in (first - 1, stop) if 0 <= i < len(entries)]
    return Reach(
        tolerance_cents,
        run[0].note,
        run[-1].note,
        len(run),
        float(np.diff([entry.note for entry in run]).max()) if len(run) > 1 else 0.0,
        len(run) == len(entries),
        f"{' and '.join(_figure(entries[i], sure[i]) for i in outside)} end it."
        if len(outside) > 1
        else "".join(f"{_figure(entries[i], sure[i])} ends it." for i in outside),
    )


def _expanded(entry: CurveEntry, common_u_cents: float) -> float:
    u = float(np.hypot(entry.u_cents, common_u_cents))
    dof = entry.dof * (u / entry.u_cents) ** 4 if entry.u_cents > 0.0 else entry.dof
    return coverage_factor(dof) * u


def _figure(entry: CurveEntry, u: float) -> str:
    digits = 1 if u >= 0.095 else 2
    return f"{note_name(entry.note)} ({entry.cents:+.{digits}f} ± {u:.{digits}f} cents)".replace(
        "-", "−"
    )
