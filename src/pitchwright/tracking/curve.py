"""The tracking curve: cents away from the target, note by note, each with its uncertainty."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pitchwright.tracking.course import Course
from pitchwright.tracking.coverage import coverage_factor
from pitchwright.tracking.point import Point
from pitchwright.tracking.readings import Readings
from pitchwright.tracking.target import TargetCurve
from pitchwright.units import note_name, ratio_of_cents

__all__ = ["CurveEntry", "LeftOut", "TrackingCurve", "tracking_curve"]


@dataclass(frozen=True, slots=True)
class CurveEntry:
    """One note of a tracking curve: its readings combined, drift taken out.

    Attributes
    ----------
    note, cv_v
        The note meant and its control voltage.
    f_hz
        Frequency, as it was in the middle of the survey.
    cents, u_cents
        Away from the target, with standard uncertainty: reading, how well the note comes back,
        and what moved all notes meanwhile (the clock's error not included: it is common to all).
    dof
        Degrees of freedom of ``u_cents``.
    readings
        How many were combined.
    doubt
        Why this note looks like a mistake, as a sentence; empty where it does not.
    """

    note: float
    cv_v: float
    f_hz: float
    cents: float
    u_cents: float
    dof: float = math.inf
    readings: int = 1
    doubt: str = ""

    @property
    def expanded_cents(self) -> float:
        """U: what covers 95.45 %, k = 2 or Student's t."""
        return coverage_factor(self.dof) * self.u_cents


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A reading that does not count towards the curve, and why."""

    point: Point
    why: str


@dataclass(frozen=True, slots=True)
class TrackingCurve:
    """All notes measured, ascending, and the readings that were left out."""

    entries: tuple[CurveEntry, ...]
    left_out: tuple[LeftOut, ...] = ()

    @property
    def trusted(self) -> tuple[CurveEntry, ...]:
        """The notes that do not look like mistakes."""
        return tuple(entry for entry in self.entries if not entry.doubt)


def tracking_curve(
    points: Sequence[Point],
    readings: Readings,
    far_off: NDArray[np.bool_],
    distance_cents: NDArray[np.float64],
    course: Course,
    target: TargetCurve,
) -> TrackingCurve:
    """Combine readings note by note.

    A note named as far off stays in the curve with a doubt; a reading of it that is left out was
    left out before. ``course`` is of the readings not named.
    """
    sure = readings.where(~far_off)
    known = {float(note): i for i, note in enumerate(np.unique(sure.note))}
    in_order = np.argsort(sure.t_s, kind="stable")
    entries: list[CurveEntry] = []
    for note in map(float, np.unique(readings.note)):
        here = np.flatnonzero(readings.note == note)
        doubt = ""
        if note in known:
            cents = float(course.notes_cents[known[note]])
            own = float(course.u_notes_cents[known[note]])
        else:
            moved = np.interp(readings.t_s[here], sure.t_s[in_order], course.moved_cents[in_order])
            cents = float((readings.cents[here] - moved).mean())
            own = math.hypot(float(readings.u_cents[here].max()), course.returning.cents)
            far = float(np.median(distance_cents[here]))
            doubt = (
                f"{note_name(note)} lies {abs(far):.1f} cents "
                f"{'above' if far > 0 else 'below'} the line of the other notes: was another key "
                "down, or is it the source's step? Play it again."
            )
        entries.append(
            CurveEntry(
                note=note,
                cv_v=float(readings.cv_v[here].mean()),
                f_hz=_heard_hz(note, cents + target.cents_at(note)),
                cents=cents,
                u_cents=math.hypot(own, target.u_at(note)),
                readings=len(here),
                doubt=doubt,
            )
        )
    left_out = [LeftOut(p, p.why or "Left out before the survey.") for p in points if not p.kept]
    return TrackingCurve(tuple(entries), tuple(sorted(left_out, key=lambda out: out.point.t_s)))


def _heard_hz(note: float, cents: float) -> float:
    return 440.0 * ratio_of_cents((note - 69.0) * 100.0 + cents)
