"""What comes when the hand has gone: how far the trimmer springs back, and what the hand did.

A trimmer springs back against the way that it went last; hand and warmth shift every note alike,
whatever was turned. Both begin as a guess, are learned whenever a hand has gone, and are kept with
the trimmer, so that the next aim allows for them and no visit is lost to them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Guess", "last_way", "learned"]

Array = NDArray[np.float64]

_LEAST_U = 0.08
"""No two times are alike: what is learned never becomes surer than this, in cents."""
_MOVES_CENTS = 0.35


@dataclass(frozen=True, slots=True)
class Guess:
    """A figure and its standard uncertainty."""

    mean: float
    u: float


def last_way(cents: Array, before_cents: float) -> float:
    """Sign of the last change that stands out of the noise; 0 where there is none.

    Parameters
    ----------
    cents
        Live readings of a turn in order, shape (n,).
    before_cents
        The reading before it.
    """
    track = np.concatenate([[before_cents], cents])
    away = np.flatnonzero(np.abs(track - track[-1]) > _MOVES_CENTS)
    return float(np.sign(track[-1] - track[away[-1]])) if len(away) else 0.0


def learned(
    hand: Guess, springs: Guess, way: float, shape: Array, shift_cents: Array, u_cents: Array
) -> tuple[Guess, Guess]:
    """What the shifts of some notes, the hand gone, tell of both.

    Parameters
    ----------
    hand
        What its going shifts every note by, in cents.
    springs
        How far the trimmer springs back, in its unit.
    way
        Which way it went last: the sign of its amount, 0 where not known.
    shape
        Shift of these notes for one unit, shape (n,).
    shift_cents, u_cents
        How far each moved as the hand went, and the standard uncertainty, shape (n,).

    Returns
    -------
    Guess, Guess
        Both, surer than before.
    """
    design = np.column_stack([np.ones(len(shape)), -way * shape])
    prior = np.diag([hand.u**-2, springs.u**-2])
    weight = design.T / u_cents**2
    covariance = np.linalg.inv(prior + weight @ design)
    mean = covariance @ (prior @ np.array([hand.mean, springs.mean]) + weight @ shift_cents)
    arm = max(float(np.abs(shape).max()), 1e-9)
    return (
        Guess(float(mean[0]), max(math.sqrt(covariance[0, 0]), _LEAST_U)),
        Guess(float(mean[1]), max(math.sqrt(covariance[1, 1]), _LEAST_U / arm)),
    )
