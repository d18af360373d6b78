"""Conformity: the one place where an error is compared with a tolerance.

Guarded acceptance (JCGM 106:2012): a note is inside where |error| + U does not exceed the
tolerance, outside where |error| − U does, undecided between. U covers 95.45 %: k = 2, or larger,
from Student's t, where the degrees of freedom are few. The uncertainty of a note has a part of its
own (reading, repeats) and a part common to all notes (the clock); the degrees of freedom of both
together follow from the Welch-Satterthwaite formula.

Everyone who tells a person how an oscillator stands asks here: trim, reach, sheet, certificate,
ensemble and forecast. What is asked while planning a turn (``trim.aim``) is no verdict and stays
there.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import stdtr

from pitchwright.tracking.coverage import K2, combined_dof, coverage_factor

__all__ = [
    "EXACT",
    "CommonPart",
    "Conformity",
    "JudgedCurve",
    "JudgedNote",
    "NoteError",
    "judge",
    "stands",
    "widest_run",
]

Array = NDArray[np.float64]


class Conformity(StrEnum):
    """How an error stands against a tolerance."""

    INSIDE = "inside"
    OUTSIDE = "outside"
    UNDECIDED = "undecided"


def stands(error: float, expanded_u: float, tolerance: float) -> Conformity:
    """Compare one error with a tolerance, all three in one unit.

    Parameters
    ----------
    error
        Either sign.
    expanded_u
        Its U.
    tolerance
        Greatest error allowed either way.
    """
    if abs(error) + expanded_u <= tolerance:
        return Conformity.INSIDE
    if abs(error) - expanded_u > tolerance:
        return Conformity.OUTSIDE
    return Conformity.UNDECIDED


class Uncertain(Protocol):
    """A note's error with its own standard uncertainty, as a tracking curve has it."""

    @property
    def note(self) -> float:
        """MIDI note number."""

    @property
    def cents(self) -> float:
        """Error in cents."""

    @property
    def u_cents(self) -> float:
        """Standard uncertainty that is this note's own."""

    @property
    def dof(self) -> float:
        """Degrees of freedom of that."""


@dataclass(frozen=True, slots=True)
class NoteError:
    """The least that can be judged: a note's error and its own standard uncertainty."""

    note: float
    cents: float
    u_cents: float
    dof: float = math.inf


@dataclass(frozen=True, slots=True)
class CommonPart:
    """What makes all notes uncertain alike, as the clock does.

    Attributes
    ----------
    u_cents
        Standard uncertainty; 0 where a reference cancels it.
    dof
        Its degrees of freedom.
    """

    u_cents: float = 0.0
    dof: float = math.inf


EXACT = CommonPart()
"""No common part: errors against something measured in the same breath."""


@dataclass(frozen=True, slots=True)
class JudgedNote:
    """One note against a tolerance.

    Attributes
    ----------
    note, cents
        Which, and its error.
    u_cents
        Combined standard uncertainty, the common part included.
    dof, coverage
        Degrees of freedom of that, and the k that follows.
    tolerance_cents
        Greatest error allowed either way.
    """

    note: float
    cents: float
    u_cents: float
    dof: float
    coverage: float
    tolerance_cents: float

    @property
    def expanded_cents(self) -> float:
        """U = k · u."""
        return self.coverage * self.u_cents

    @property
    def holds_cents(self) -> float:
        """The smallest tolerance inside which it is."""
        return abs(self.cents) + self.expanded_cents

    @property
    def standing(self) -> Conformity:
        """Inside, outside or undecided."""
        return stands(self.cents, self.expanded_cents, self.tolerance_cents)

    @property
    def inside(self) -> bool:
        """Whether it is inside for certain."""
        return self.standing is Conformity.INSIDE

    @property
    def risk(self) -> float:
        """Probability that the true error is larger than the tolerance, 0 to 1."""
        u = max(self.u_cents, 1e-12)
        upper = _below((self.tolerance_cents - self.cents) / u, self.dof)
        lower = _below((-self.tolerance_cents - self.cents) / u, self.dof)
        return 1.0 - (upper - lower)


@dataclass(frozen=True, slots=True)
class JudgedCurve:
    """A curve against a tolerance: every statement about how it conforms.

    Attributes
    ----------
    tolerance_cents
        Greatest error allowed either way.
    notes
        Ascending, one at least.
    own
        Standard uncertainty and degrees of freedom of each note without the common part.
    common
        The part that all notes share.
    """

    tolerance_cents: float
    notes: tuple[JudgedNote, ...]
    own: tuple[tuple[float, float], ...]
    common: CommonPart

    @property
    def standing(self) -> Conformity:
        """Of all notes together: outside where one is, inside where all are."""
        found = {note.standing for note in self.notes}
        if Conformity.OUTSIDE in found:
            return Conformity.OUTSIDE
        return Conformity.UNDECIDED if Conformity.UNDECIDED in found else Conformity.INSIDE

    @property
    def inside(self) -> bool:
        """Whether every note is inside for certain."""
        return self.standing is Conformity.INSIDE

    @property
    def worst(self) -> JudgedNote:
        """The note that asks for the widest tolerance."""
        return max(self.notes, key=lambda note: note.holds_cents)

    @property
    def farthest(self) -> JudgedNote:
        """The note with the greatest error."""
        return max(self.notes, key=lambda note: abs(note.cents))

    @property
    def holds_cents(self) -> float:
        """The smallest tolerance inside which every note is."""
        return self.worst.holds_cents

    @property
    def run(self) -> tuple[int, int] | None:
        """First and last index of the run of notes inside that spans most; None without one."""
        return widest_run([n.note for n in self.notes], [n.inside for n in self.notes])

    def jointly_inside(self, tolerance_cents: float) -> float:
        """Probability that all notes together lie within a tolerance, 0 to 1.

        Notes are independent but for the common part, over which is averaged.
        """
        cents = np.array([note.cents for note in self.notes])
        u = np.maximum([u for u, _ in self.own], 1e-9)
        dof = np.array([min(dof, 1e12) for _, dof in self.own])
        shift = self.common.u_cents * _NODES[:, None]
        each = stdtr(dof, (tolerance_cents - cents - shift) / u) - stdtr(
            dof, (-tolerance_cents - cents - shift) / u
        )
        return float(_WEIGHTS @ np.prod(each, axis=1))

    @property
    def jointly_holds_cents(self) -> float:
        """The tolerance inside which all notes lie together with 95.45 % probability."""
        far = max(abs(note.cents) for note in self.notes)
        high = far + 1e-9
        while self.jointly_inside(high) < K2:
            high = far + 2.0 * (high - far) + 1e-3
        return float(brentq(lambda x: self.jointly_inside(x) - K2, 0.0, high, xtol=1e-6))


def widest_run(notes: Sequence[float], inside: Sequence[bool]) -> tuple[int, int] | None:
    """First and last index of the run of neighbours inside that spans most semitones.

    Of runs equally wide the one with more notes, then the lowest; None where no note is inside.
    """
    best: tuple[int, int] | None = None
    start: int | None = None

    def width(first: int, last: int) -> tuple[float, int]:
        return (notes[last] - notes[first], last - first)

    for i, ok in enumerate([*inside, False]):
        if ok and start is None:
            start = i
        elif not ok and start is not None:
            if best is None or width(start, i - 1) > width(*best):
                best = (start, i - 1)
            start = None
    return best


_NODES, _WEIGHTS = (np.asarray(a) for a in np.polynomial.hermite_e.hermegauss(41))
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


def judge(
    curve: Iterable[Uncertain], tolerance_cents: float, common: CommonPart = EXACT
) -> JudgedCurve:
    """Judge a curve note by note and as a whole.

    Parameters
    ----------
    curve
        Notes in ascending order, at least one.
    tolerance_cents
        Greatest error allowed either way, above zero.
    common
        What all notes share; nothing where the target cancels it.
    """
    entries: Sequence[Uncertain] = tuple(curve)
    if not entries:
        raise ValueError("a curve without a note cannot be judged")
    judged = []
    for entry in entries:
        u = math.hypot(entry.u_cents, common.u_cents)
        dof = combined_dof((entry.u_cents, entry.dof), (common.u_cents, common.dof))
        factor = coverage_factor(dof)
        judged.append(JudgedNote(entry.note, entry.cents, u, dof, factor, tolerance_cents))
    own = tuple((entry.u_cents, entry.dof) for entry in entries)
    return JudgedCurve(tolerance_cents, tuple(judged), own, common)


def _below(x: float, dof: float) -> float:
    return float(stdtr(dof if math.isfinite(dof) else 1e12, x))
