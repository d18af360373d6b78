"""What the live readings of one turn tell before any other note is played."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "Steps",
    "at_rest_cents",
    "jump_cents",
    "standing_start",
    "steps_about",
    "went_wrong_way",
]

Array = NDArray[np.float64]

_LIVE_NOISE_CENTS = 0.12
"""What live readings scatter by while nothing is turned, where too few tell."""
_WRONG_WAY_CENTS, _CREPT_CENTS = 0.5, 1.5
_SECOND = 10
"""Live readings in a second, about."""
_JUMP_CENTS = 1.2
_CONTACT_CENTS, _RESTS = 1.2, 3
_SIZES = np.arange(1.0, 8.0, 0.02)
"""Sizes of steps that are looked for, in cents: finer ones hardly matter."""
_NEAR_CENTS = 12.0
_U_LEVEL_CENTS = 0.07
"""What drift, and steps that are not quite even, put between a reading and its level."""
_SURE = 11.0
"""Logarithm of how much likelier steps must be: one smooth trimmer in thousands gets there."""


def went_wrong_way(cents: Array, start_cents: float, aim_cents: float) -> bool:
    """Whether the reading first moved away from the aim.

    Parameters
    ----------
    cents
        Live readings in order, shape (n,).
    start_cents, aim_cents
        Where the reading stood before the turn, and the aim: they tell which way was meant.
    """
    if len(cents) < 3:
        return False
    towards = (cents - start_cents) * np.sign(aim_cents - start_cents)
    # Drift creeps away as well, at a note that this trimmer hardly moves: a hand is quicker.
    before = np.concatenate([np.full(_SECOND, towards[0]), towards])[: len(towards)]
    quickly = (towards < -_WRONG_WAY_CENTS) & (towards - before < -_WRONG_WAY_CENTS)
    away = np.flatnonzero(quickly | (towards < -_CREPT_CENTS))
    arrived = np.flatnonzero(towards > _WRONG_WAY_CENTS)
    return bool(len(away)) and (not len(arrived) or away[0] < arrived[0])


def standing_start(cents: Array) -> tuple[float, float] | None:
    """Where the reading stood as the hand began, and its standard uncertainty, both in cents.

    None where it moved from the first reading on, so that nothing was seen to stand.
    """
    if len(cents) < 4:
        return None
    noise = _noise([cents])
    if abs(cents[1] - cents[0]) > 4.0 * noise:
        return None
    return float(cents[:2].mean()), math.hypot(noise / math.sqrt(2.0), _U_LEVEL_CENTS)


def jump_cents(cents: Array) -> float | None:
    """Size of the one step that stands out: a knob was knocked, no screw turns like that.

    None where no step does, or several do (a trimmer that moves in steps).
    """
    if len(cents) < 5:
        return None
    steps = np.diff(cents)
    outlying: list[float] = []
    for k in np.flatnonzero(np.abs(steps) > _JUMP_CENTS).tolist():
        near = np.delete(steps[max(0, k - 3) : k + 4], min(k, 3))
        usual = float(np.median(near))
        spread = float(np.abs(near - usual).max())
        if abs(steps[k] - usual) > max(_JUMP_CENTS, 2.5 * spread):
            outlying.append(float(steps[k]) - usual)
    return outlying[0] if len(outlying) == 1 else None


def at_rest_cents(cents: Array, after_cents: float) -> float | None:
    """Size of a jump while the hand rested; None where there was none.

    Parameters
    ----------
    cents
        Live readings of a turn in order, shape (n,): a hand rests before it turns and after it.
    after_cents
        The careful reading that followed.
    """
    if len(cents) < 2 * _RESTS:
        return None
    ends = [float(cents[1] - cents[0]), after_cents - float(np.median(cents[-_RESTS:]))]
    jumps = [jump for jump in ends if abs(jump) > _CONTACT_CENTS]
    return max(map(abs, jumps)) if jumps else None


@dataclass(frozen=True, slots=True)
class Steps:
    """A trimmer that moves in steps.

    Attributes
    ----------
    size_cents
        From one level to the next.
    nearest_cents
        The level nearest to the aim.
    """

    size_cents: float
    nearest_cents: float


def steps_about(tracks: list[Array], aim_cents: float) -> Steps | None:
    """Whether the readings near the aim all stand on evenly spaced levels, as of a stepped trimmer.

    Each place where the reading came to stand is weighed: on levels ``size`` apart it lies within
    the noise of one of them, a smooth trimmer puts it anywhere. The logarithms of the two
    probabilities' ratio are added up, for the size at which they come to most. A place passed in a
    tenth of a second counts little, since a live reading may straddle a step.

    Parameters
    ----------
    tracks
        Live readings of all turns at this aim, in order, shape (n,) each.
    aim_cents
        The aim.

    Returns
    -------
    Steps or None
        None where a smooth trimmer explains the readings as well.
    """
    near = np.concatenate([_stays(track, k > 0) for k, track in enumerate(tracks)])
    near = near[np.abs(near[:, 0] - aim_cents) < _NEAR_CENTS]
    if len(near) < 3:
        return None
    noise = _noise(tracks)
    cents, count, spread = near.T
    u = np.hypot(noise / np.sqrt(count), _U_LEVEL_CENTS)
    doubt = np.where(count < 2, 0.25, 0.02)
    creeps = (count >= 3) & (spread > 1.9 * noise)
    turns = np.exp(2j * np.pi * cents / _SIZES[:, None])
    offset = np.angle((turns / u**2).sum(axis=1)) * _SIZES / (2.0 * np.pi)
    off = cents - offset[:, None]
    off -= np.round(off / _SIZES[:, None]) * _SIZES[:, None]
    likely = _SIZES[:, None] * np.exp(-0.5 * (off / u) ** 2) / (u * math.sqrt(2.0 * math.pi))
    weight = np.log((1.0 - doubt) * np.where(creeps, 0.0, likely) + doubt).sum(axis=1)
    best = int(weight.argmax())
    if weight[best] < _SURE:
        return None
    size, first = float(_SIZES[best]), float(offset[best])
    return Steps(size, first + size * round((aim_cents - first) / size))


def _stays(track: Array, goes_on: bool) -> Array:
    """Where the reading stood between hops: mean, count and scatter, shape (n, 3).

    The first place of a track that goes on from another is known already.
    """
    noise = _noise([track])
    hops = np.flatnonzero(np.abs(np.diff(track)) > max(0.35, 4.0 * noise)) + 1
    stays = [(part.mean(), len(part), part.std()) for part in np.split(track, hops) if len(part)]
    return np.array(stays[int(goes_on) :]).reshape(-1, 3)


def _noise(tracks: list[Array]) -> float:
    """Scatter of one live reading, from the quarter of them that changed least."""
    steps = np.abs(np.concatenate([np.diff(track) for track in tracks]))
    if not len(steps):
        return _LIVE_NOISE_CENTS
    # A quarter of all differences of two normal readings are below 0.45 standard deviations.
    return float(np.clip(np.quantile(steps, 0.25) / 0.4506, 0.05, 0.3))
