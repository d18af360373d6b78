"""The tracking curve: cents away from the target, note by note, each with its uncertainty."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pitchwright.tracking.coverage import coverage_factor
from pitchwright.tracking.drift import Repeats
from pitchwright.tracking.model import TermState, TrackingModel
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
        Away from the target, with standard uncertainty (the clock's error not included: it is
        common to all notes).
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
    model: TrackingModel,
    repeats: Repeats,
    target: TargetCurve,
) -> TrackingCurve:
    """Combine readings note by note.

    A reading named as far off is left out where its note has others; where it has not, the note
    stays in the curve with a doubt.
    """
    drift = model.drift if model.drift.state is TermState.KEPT else None
    entries: list[CurveEntry] = []
    left_out = [LeftOut(p, p.why or "Left out before the survey.") for p in points if not p.kept]
    kept_points = [p for p in points if p.kept]
    for note in np.unique(readings.note):
        here = np.flatnonzero(readings.note == note)
        good = here[~far_off[here]]
        doubt = ""
        if not len(good):
            good = here
            far = float(np.median(distance_cents[here]))
            doubt = (
                f"{note_name(float(note))} lies {abs(far):.1f} cents "
                f"{'above' if far > 0 else 'below'} the line of the other notes: was another key "
                "down, or is it the source's step? Play it again."
            )
        for i in here[~np.isin(here, good)]:
            why = (
                f"{note_name(float(note))} was heard {abs(distance_cents[i]):.1f} cents away from "
                "the line of the others at this visit, not at the rest."
            )
            left_out.append(LeftOut(kept_points[int(i)], why))
        variance = readings.u_cents[good] ** 2 + repeats.visit_scatter_cents**2
        weight = 1.0 / np.maximum(variance, 1e-18)
        minutes = (readings.t_s[good] - model.t_ref_s) / 60.0
        cents = float(np.average(readings.cents[good], weights=weight))
        away_min = float(np.average(minutes, weights=weight))
        own = 1.0 / float(weight.sum())
        extra = target.u_at(float(note)) ** 2
        if drift is not None and drift.value is not None and drift.u is not None:
            cents -= drift.value * away_min
            extra += (drift.u * away_min) ** 2
        wanted = target.cents_at(float(note))
        whole = own + extra
        entries.append(
            CurveEntry(
                note=float(note),
                cv_v=float(readings.cv_v[good].mean()),
                f_hz=_heard_hz(float(note), cents + wanted),
                cents=cents,
                u_cents=math.sqrt(whole),
                dof=_dof(repeats, own, whole),
                readings=len(good),
                doubt=doubt,
            )
        )
    return TrackingCurve(tuple(entries), tuple(sorted(left_out, key=lambda out: out.point.t_s)))


def _heard_hz(note: float, cents: float) -> float:
    return 440.0 * ratio_of_cents((note - 69.0) * 100.0 + cents)


def _dof(repeats: Repeats, own: float, whole: float) -> float:
    """Few where the scatter between visits, found from few repeats, makes the uncertainty."""
    if repeats.visit_scatter_cents == 0.0 or repeats.dof < 1:
        return math.inf
    return float(repeats.dof * (whole / own) ** 2)
