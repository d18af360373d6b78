"""In tune, reachable but not certifiable, or cannot: and why, and what would help.

Whether a note is inside the tolerance is for ``tracking.conformity`` to say. Between that and what
the trimmers cannot do lies a third case: the best possible is inside, but by less than the
uncertainty.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from pitchwright.tracking.coverage import expanded_u
from pitchwright.trim.aim import Lever, best_amounts

__all__ = ["Standing", "Verdict", "u_best"]

Array = NDArray[np.float64]


class Standing(StrEnum):
    """The three verdicts."""

    IN_TUNE = "in tune"
    NOT_CERTIFIABLE = "reachable but not certifiable"
    CANNOT = "cannot"


@dataclass(frozen=True, slots=True)
class Verdict:
    """How the oscillator stands at the end.

    Attributes
    ----------
    standing
        Which of the three.
    low, high
        The range it is about, MIDI note numbers.
    tolerance_cents
        What was asked for.
    greatest_cents, u_greatest_cents, at_note
        Greatest absolute error now, its standard uncertainty, and where.
    holds_cents
        The smallest tolerance that holds now over this range, guard band included.
    best_possible_cents, u_best_cents
        Greatest error that ideal hands could leave with these trimmers.
    unplayed_cents
        What notes that were not played may be off by (95 in 100 of them), judged from the source
        errors of those that were.
    narrower
        The widest run of notes that does hold now, where the whole does not.
    wider_run
        Where a wider range was tried and does not hold as a whole: the widest run that does.
    why
        Sentences: what stands in the way.
    would_help
        Sentences: what would help.
    """

    kind: ClassVar[str] = "verdict"
    standing: Standing
    low: float
    high: float
    tolerance_cents: float
    greatest_cents: float
    u_greatest_cents: float
    at_note: float
    holds_cents: float
    best_possible_cents: float
    u_best_cents: float
    unplayed_cents: float
    narrower: tuple[float, float] | None = None
    wider_run: tuple[float, float] | None = None
    why: tuple[str, ...] = ()
    would_help: tuple[str, ...] = ()

    @property
    def expanded_greatest_cents(self) -> float:
        """U of the greatest error."""
        return expanded_u(self.u_greatest_cents)


def u_best(curve_cents: Array, covariance: Array, levers: list[Lever]) -> tuple[float, list[int]]:
    """Uncertainty of the best possible error, and the notes that decide it.

    At the optimum the error is one combination of the extremal notes in which every trimmer's
    shape cancels, so its variance follows from theirs.
    """
    amounts, best = best_amounts(curve_cents, levers)
    left: Array = curve_cents.copy()
    for lever, amount in zip(levers, amounts, strict=True):
        left = left + amount * lever.shape
    rows = np.flatnonzero(np.abs(left) >= best - 1e-6 * max(best, 1.0))
    weight = np.zeros(len(curve_cents))
    if len(rows) == 1 or not levers:
        weight[int(np.abs(left).argmax())] = 1.0
    else:
        shapes = np.column_stack([lever.shape for lever in levers])[rows]
        mix: Array = np.linalg.svd(shapes.T)[2][-1]
        weight[rows] = mix / float(np.abs(mix).sum())
    u = math.sqrt(max(float(weight @ covariance @ weight), 0.0))
    return u, [int(i) for i in np.flatnonzero(np.abs(weight) > 0.02)]
