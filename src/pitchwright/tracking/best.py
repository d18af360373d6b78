"""The best that the trimmers could do: the minimax fit of what they can add to the curve."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pitchwright.tracking.curve import CurveEntry
from pitchwright.tracking.minimax import minimax

__all__ = ["TRIMMERS", "BestPossible", "best_possible"]

TRIMMERS = ("base", "scale", "high")


@dataclass(frozen=True, slots=True)
class BestPossible:
    """What is left once the trimmers have done their best.

    Attributes
    ----------
    max_error_cents
        Greatest error left at the notes measured.
    base_cents, scale_cents_per_oct, high_cents_per_khz
        The errors to be taken out (turn by the opposite); base is at ``v_ref`` volts with the
        high end's part not included.
    v_ref
        Control voltage at which ``base_cents`` is stated.
    trimmers
        Which of them were used.
    left_cents
        Error left at each note, shape of the entries.
    """

    max_error_cents: float
    base_cents: float
    scale_cents_per_oct: float
    high_cents_per_khz: float
    v_ref: float
    trimmers: tuple[str, ...]
    left_cents: tuple[float, ...]


def best_possible(
    entries: Sequence[CurveEntry], v_ref: float, trimmers: Sequence[str] = TRIMMERS
) -> BestPossible:
    """Find the smallest greatest error that the given trimmers could leave.

    Parameters
    ----------
    entries
        Notes of a tracking curve, at least one.
    v_ref
        Control voltage at which base is stated.
    trimmers
        Any of base, scale, high. With fewer notes than trimmers, the later ones are not used.
    """
    shape = {
        "base": np.ones(len(entries)),
        "scale": np.array([entry.cv_v - v_ref for entry in entries]),
        "high": np.array([entry.f_hz / 1000.0 for entry in entries]),
    }
    used = tuple(name for name in TRIMMERS if name in trimmers)[: len(entries)]
    if not used:
        raise ValueError("at least one trimmer is needed")
    solved = minimax(
        np.column_stack([shape[name] for name in used]),
        np.array([entry.cents for entry in entries]),
    )
    amount = dict(zip(used, (float(c) for c in solved.coefficients), strict=True))
    return BestPossible(
        max_error_cents=solved.max_error,
        base_cents=amount.get("base", 0.0),
        scale_cents_per_oct=amount.get("scale", 0.0),
        high_cents_per_khz=amount.get("high", 0.0),
        v_ref=v_ref,
        trimmers=used,
        left_cents=tuple(float(e) for e in solved.errors),
    )
