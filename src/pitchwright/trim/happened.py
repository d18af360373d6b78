"""What a turn did, told from the notes read after it.

Every move is first taken as an unknown change of base, scale and (where there is such a trimmer)
the high end. What was asked is one line in that space; a base knob bumped in mid-move, another
trimmer, nothing at all are others. Each is weighed by how likely it makes the shifts of the notes
read before and after, amounts integrated out, so a richer story pays for being richer.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from pitchwright.trim.kinds import TrimmerKind
from pitchwright.trim.pivot import PivotDensity

__all__ = ["SURE_ODDS", "Happened", "Seen", "Weighed", "bumped_meanwhile", "weigh"]

Array = NDArray[np.float64]

_AMOUNT_CENTS = 30.0
"""Prior standard deviation of what a turn does at the note where it does most."""
_BUMP_CENTS = 10.0
_IMPERFECT = 0.004
"""Share by which a trimmer's shift may differ from its shape: 0.4 % of the greatest shift."""
_P_BUMP, _P_WRONG, _P_SLIPPED = 0.01, 0.05, 0.01
"""How often base is bumped in a turn, a visit begins in another trimmer, a later turn slips."""
SURE_ODDS = 20.0
"""Nobody is told of a fault of theirs that is less likely than this against none."""
_P_JUMP_PER_CENT2, _P_JUMP_MOST = 0.0035, 0.35
"""How likely a jump in the live track is a knock: small ones are mostly the play of the screw."""
_U_JUMP_CENTS = 0.8
_MOVED_SIGMA, _MOVED_CENTS = 5.0, 0.4


class Happened(StrEnum):
    """What can be said of a turn."""

    AS_ASKED = "as asked"
    WRONG_WAY = "wrong way"
    WRONG_TRIMMER = "wrong trimmer"
    BUMPED = "bumped base knob"
    TOO_COARSE = "too coarse"
    AT_END = "at its end"
    NOTHING_MOVED = "nothing moved"
    BAD_CONTACT = "bad contact"


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """Shifts of the notes read after a turn, against what no turn would have given.

    Attributes
    ----------
    cv_v
        Control voltages of the notes, shape (m,).
    high
        Shape of the high end at these notes (``Notes.high``), shape (m,).
    shift_cents, covariance
        Shifts and their covariance from belief, drift and reading noise, shapes (m,), (m, m).
    jump_cents
        Size of a jump in the live track that no hand makes, None where there is none: if a knob
        was bumped, it was by so much.
    first
        Whether it is the visit's first turn: later the screwdriver only seldom slips out.
    """

    cv_v: Array
    high: Array
    shift_cents: Array
    covariance: Array
    jump_cents: float | None
    first: bool


@dataclass(frozen=True, slots=True, eq=False)
class Weighed:
    """Probabilities of the stories about one turn, and what it says about the pivot.

    Attributes
    ----------
    moved
        Whether any note moved at all.
    p_wrong
        Probability of each other kind of trimmer having been turned instead.
    pivot
        The density after this turn (unchanged where another trimmer is likelier).
    clean, bumped
        Log-likelihood of each pivot candidate without and with a base knob bumped meanwhile,
        prior of the bump included; empty where the turn says nothing about a bump.
    """

    moved: bool
    p_wrong: dict[TrimmerKind, float]
    pivot: PivotDensity
    clean: Array
    bumped: Array

    @property
    def p_other(self) -> float:
        """Probability that it was any other trimmer."""
        return sum(self.p_wrong.values())

    @property
    def wrong(self) -> TrimmerKind | None:
        """The trimmer turned instead, where the odds for that are long enough to say so."""
        p = self.p_other
        if not self.p_wrong or p < SURE_ODDS * (1.0 - p):
            return None
        return max(self.p_wrong, key=lambda kind: self.p_wrong[kind])


def weigh(
    seen: Seen, kind: TrimmerKind, pivot: PivotDensity, others: tuple[TrimmerKind, ...]
) -> Weighed:
    """Weigh the stories about a turn of a trimmer of ``kind``.

    Parameters
    ----------
    seen
        What moved.
    kind
        What was asked for.
    pivot
        What is believed of the scale trimmer's pivot (whichever trimmer was asked for).
    others
        Kinds of the other trimmers that a hand could have reached instead.
    """
    y = seen.shift_cents
    floor = (_IMPERFECT * float(np.abs(y).max())) ** 2 + 0.01**2
    cov = seen.covariance + floor * np.eye(len(y))
    sigma = np.sqrt(np.diag(cov))
    moved = bool((np.abs(y) > np.maximum(_MOVED_SIGMA * sigma, _MOVED_CENTS)).any())
    if not moved:
        return Weighed(False, {}, pivot, np.empty(0), np.empty(0))
    p_jump = min(_P_JUMP_PER_CENT2 * (seen.jump_cents or 0.0) ** 2, _P_JUMP_MOST)
    p_bump = _P_BUMP + p_jump
    shapes = _shapes(seen, kind, pivot)
    clean = _log_likelihood(y, cov, shapes) + np.log1p(-p_bump)
    bumped = _log_likelihood(y, cov + _BUMP_CENTS**2, shapes) + np.log(_P_BUMP)
    if seen.jump_cents is not None:
        # The jump may be the bump itself, which then has a size, or only the play of the screw.
        sized = _log_likelihood(y - seen.jump_cents, cov + _U_JUMP_CENTS**2, shapes)
        bumped = np.logaddexp(bumped, sized + np.log(p_jump))
    prior = pivot.weight if kind.has_pivot else np.ones(1)
    right = _mixed(clean if kind.is_base else np.logaddexp(clean, bumped), prior)
    wrong: dict[TrimmerKind, float] = {}
    p_wrong_before = _P_WRONG if seen.first else _P_SLIPPED
    for other in _distinct(others, kind):
        weight = pivot.weight if other.has_pivot else np.ones(1)
        story = _log_likelihood(y, cov, _shapes(seen, other, pivot))
        wrong[other] = _mixed(story, weight) + np.log(p_wrong_before)
    top = max(right, *wrong.values()) if wrong else right
    total = np.exp(right - top) + sum(np.exp(log - top) for log in wrong.values())
    p_wrong = {other: float(np.exp(log - top) / total) for other, log in wrong.items()}
    doubt = sum(p_wrong.values())
    if doubt > SURE_ODDS * (1.0 - doubt):
        likeliest = max(p_wrong, key=lambda other: p_wrong[other])
        if likeliest.has_pivot:
            pivot = pivot.updated(_log_likelihood(y, cov, _shapes(seen, likeliest, pivot)))
        return Weighed(True, p_wrong, pivot, np.empty(0), np.empty(0))
    if kind.has_pivot:
        pivot = pivot.updated(np.logaddexp(clean, bumped))
    if kind.is_base:
        clean = bumped = np.empty(0)
    return Weighed(True, p_wrong, pivot, clean, bumped)


def bumped_meanwhile(pivot: PivotDensity, turns: list[Weighed]) -> float:
    """Probability that a base knob was bumped in any of these turns of one trimmer.

    A bump in the first turn looks like another pivot; the next turn, which does not agree with
    it, tells. So all turns of a visit are judged together, by the density after the last.
    """
    told = [turn for turn in turns if len(turn.clean)]
    if not told:
        return 0.0
    none = np.zeros(len(told[0].clean))
    for turn in told:
        none = none + turn.clean - np.logaddexp(turn.clean, turn.bumped)
    weight = pivot.weight if len(none) == len(pivot.weight) else np.ones(1)
    return 1.0 - float(weight @ np.exp(none))


def _distinct(others: tuple[TrimmerKind, ...], kind: TrimmerKind) -> tuple[TrimmerKind, ...]:
    """Of the other kinds, one for each shape that differs from what was asked."""
    kept: list[TrimmerKind] = []
    for other in others:
        if not any(other.acts_like(k) for k in (kind, *kept)):
            kept.append(other)
    return tuple(kept)


def _shapes(seen: Seen, kind: TrimmerKind, pivot: PivotDensity) -> Array:
    """Shifts for a unit turn at the note that moves most, shape (m, candidates)."""
    pivot_v = pivot.pivot_v[None, :] if kind.has_pivot else np.zeros((1, 1))
    shapes = kind.entry.shape(seen.cv_v[:, None], -seen.high[:, None], pivot_v)
    return np.asarray(shapes / np.maximum(np.abs(shapes).max(axis=0), 1e-9))


def _log_likelihood(y: Array, cov: Array, shapes: Array) -> Array:
    """Log density of the shifts, the amount integrated out, one for each shape."""
    inverse = np.linalg.inv(cov)
    _, log_det = np.linalg.slogdet(cov)
    through = inverse @ shapes
    size = (shapes * through).sum(axis=0)
    along = y @ through
    s2 = _AMOUNT_CENTS**2
    quad = float(y @ inverse @ y) - s2 * along**2 / (1.0 + s2 * size)
    return np.asarray(-0.5 * (log_det + np.log1p(s2 * size) + quad))


def _mixed(log_likelihood: Array, weight: Array) -> float:
    top = float(log_likelihood.max())
    return top + float(np.log(max(float(weight @ np.exp(log_likelihood - top)), 1e-300)))
