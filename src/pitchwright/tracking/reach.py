"""Reach: the widest run of notes that stays inside a tolerance, uncertainty included.

Which notes are inside is for ``conformity`` to say. Only notes that were measured count: a run is
broken by a measured note that does not conform, and nothing is claimed about what lies between two
measured notes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pitchwright.tracking.conformity import JudgedCurve, JudgedNote
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


def reach(judged: JudgedCurve) -> Reach:
    """Find the widest run of notes that conform, in a curve that was judged."""
    notes, tolerance = judged.notes, judged.tolerance_cents
    if judged.run is None:
        nearest = min(notes, key=lambda note: note.holds_cents)
        return Reach(tolerance, None, None, 0, 0.0, False, f"The nearest is {_figure(nearest)}.")
    first, last = judged.run
    run = notes[first : last + 1]
    outside = [notes[i] for i in (first - 1, last + 1) if 0 <= i < len(notes)]
    return Reach(
        tolerance,
        run[0].note,
        run[-1].note,
        len(run),
        float(np.diff([note.note for note in run]).max()) if len(run) > 1 else 0.0,
        len(run) == len(notes),
        f"{' and '.join(_figure(note) for note in outside)} end it."
        if len(outside) > 1
        else "".join(f"{_figure(note)} ends it." for note in outside),
    )


def _figure(note: JudgedNote) -> str:
    u = note.expanded_cents
    digits = 1 if u >= 0.095 else 2
    return f"{note_name(note.note)} ({note.cents:+.{digits}f} ± {u:.{digits}f} cents)".replace(
        "-", "−"
    )
