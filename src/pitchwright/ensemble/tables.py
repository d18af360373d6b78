"""From readings to note tables that can be compared: drift out, covariance in.

A table's scale is the projection of the whole curve on a constant, a line in volts and the droop's
shape, over the notes that all surveys share, every note weighing the same. It is a property of the
curve and not an estimate of some true line: whatever the curve does between is residual and not
noise. The only noise is that of the readings, and an interval made from it covers the projection
whatever the residual looks like; one that took the residual for noise would not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pitchwright.ensemble.measured import Sweep
from pitchwright.errors import InputError
from pitchwright.units import cents_between, cv_of_note, note_to_hz

__all__ = ["Projection", "Table", "tables"]

Array = NDArray[np.float64]

_SMALLEST_U_CENTS = 1e-4
_FEWEST_FOR_DROOP = 5
_TOP_FOR_DROOP_HZ = 900.0
_SPAN_FOR_DROOP = 30.0


@dataclass(frozen=True, slots=True, eq=False)
class Projection:
    """The shapes that scale and droop are read off, over shared notes.

    Attributes
    ----------
    notes
        The notes, ascending, shape (n,).
    shapes
        Constant, volts and (where the notes reach high enough to see it) kilohertz, each about its
        mean but the first; shape (n, k), k = 2 or 3.
    to_terms
        Matrix that takes a table to its k terms, shape (k, n).
    """

    notes: Array
    shapes: Array
    to_terms: Array

    @classmethod
    def over(cls, notes: Array) -> Projection:
        """Shapes for these notes."""
        octaves = np.array([cv_of_note(float(note)) for note in notes])
        khz = note_to_hz(notes) / 1000.0
        columns = [np.ones(len(notes)), octaves - octaves.mean()]
        if (
            len(notes) >= _FEWEST_FOR_DROOP
            and note_to_hz(float(notes[-1])) >= _TOP_FOR_DROOP_HZ
            and notes[-1] - notes[0] >= _SPAN_FOR_DROOP
        ):
            columns.append(khz - khz.mean())
        shapes = np.column_stack(columns)
        return cls(notes, shapes, np.linalg.pinv(shapes))

    @property
    def has_droop(self) -> bool:
        """Whether the notes reach high enough to tell a droop from a scale."""
        return bool(self.shapes.shape[1] == 3)

    def row(self, note: float) -> tuple[float, float]:
        """Volts and kilohertz of any note, about the means of the shared ones."""
        octaves = cv_of_note(note) - np.mean([cv_of_note(float(n)) for n in self.notes])
        khz = (note_to_hz(note) - float(note_to_hz(self.notes).mean())) / 1000.0
        return float(octaves), khz


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """One sweep's curve at the shared notes.

    Attributes
    ----------
    oscillator, source
        Their names.
    cents, covariance
        The curve, from equal temperament, shape (n,), and its covariance, (n, n).
    terms, u_terms2
        Base, scale (cents per octave) and droop (cents per kHz), and their covariance, (k, k).
    residual
        What the terms leave, shape (n,).
    drift_hides_cents_per_oct
        What a drift of one cent per minute would do to the scale unseen, where no note was
        repeated; 0 where drift could be told apart.
    """

    oscillator: str
    source: str
    cents: Array
    covariance: Array
    terms: Array
    u_terms2: Array
    residual: Array
    drift_hides_cents_per_oct: float


def tables(sweeps: Sequence[Sweep]) -> tuple[Projection, tuple[Table, ...]]:
    """Bring sweeps to the notes they share.

    Raises
    ------
    InputError
        Where there is no sweep, one has no usable reading, or they share fewer than two notes.
    """
    if not sweeps:
        raise InputError("There is no survey to compare", do="Survey two oscillators at least")
    played = []
    for sweep in sweeps:
        notes = {point.note for point in sweep.points if point.kept}
        if not notes:
            raise InputError(
                "No reading can be used",
                f"survey of {sweep.oscillator} through {sweep.source}",
                "Play the notes again and let them settle",
            )
        played.append(notes)
    shared = np.array(sorted(set.intersection(*played)), dtype=np.float64)
    if len(shared) < 2:
        few = "no note" if not len(shared) else "only one note"
        raise InputError(
            f"The surveys share {few}", do="Survey all oscillators over the same notes"
        )
    projection = Projection.over(shared)
    return projection, tuple(_table(sweep, projection) for sweep in sweeps)


def _table(sweep: Sweep, projection: Projection) -> Table:
    kept = [point for point in sweep.points if point.kept]
    note = np.array([point.note for point in kept])
    minutes = np.array([point.t_s for point in kept]) / 60.0
    minutes = minutes - minutes.mean()
    f_hz = np.array([point.f_hz for point in kept])
    cents = cents_between(f_hz, note_to_hz(note))
    u2 = np.maximum([point.u_cents for point in kept], _SMALLEST_U_CENTS) ** 2

    every, place = np.unique(note, return_inverse=True)
    columns = np.eye(len(every))[place]
    # Drift shows only where a note comes back later.
    centred = minutes - (columns @ (columns.T @ minutes / columns.sum(axis=0)))
    tells_drift = float(np.abs(centred).max()) > 1e-3
    if tells_drift:
        columns = np.column_stack([columns, minutes])
    spare = len(kept) - columns.shape[1]
    scatter2 = 0.0
    for _ in range(20):
        weighted = columns / (u2 + scatter2)[:, None]
        covariance = np.asarray(np.linalg.inv(columns.T @ weighted), dtype=np.float64)
        left = cents - columns @ (covariance @ (weighted.T @ cents))
        excess = float((left**2 / (u2 + scatter2)).sum()) - spare
        if spare < 1 or excess <= 1e-3 * spare or not np.isfinite(excess):
            break
        # Visits to a note disagree more than the readings allow: the wander between them.
        scatter2 += excess / float((left**2 / (u2 + scatter2) ** 2).sum())
    solved = covariance @ (weighted.T @ cents)
    wanted = np.searchsorted(every, projection.notes)
    at_shared, spread = solved[wanted], covariance[np.ix_(wanted, wanted)]
    terms = projection.to_terms @ at_shared
    hides = 0.0
    if not tells_drift:
        when = np.array([minutes[note == n].mean() for n in projection.notes])
        hides = abs(float((projection.to_terms @ when)[1]))
    return Table(
        oscillator=sweep.oscillator,
        source=sweep.source,
        cents=at_shared,
        covariance=spread,
        terms=terms,
        u_terms2=projection.to_terms @ spread @ projection.to_terms.T,
        residual=at_shared - projection.shapes @ terms,
        drift_hides_cents_per_oct=hides,
    )
