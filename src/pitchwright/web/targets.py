"""What a trim on the page is to come to: flat, its own middle C, or by another's surveyed curve.

The curves are those that the terminal trims to: ``TargetCurve.following`` and the plans of
``detune``, counted from the leader's curve as it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from pitchwright.units import A4_HZ
from pitchwright.web.refusing import refused

if TYPE_CHECKING:
    from pitchwright.procedures.outcomes import SurveyClosed
    from pitchwright.procedures.worked_out import DetunePlanned
    from pitchwright.tracking import TargetCurve

__all__ = ["FLAT", "Kind", "Target", "Wanted", "target_of"]

_LEAST_BEATS_HZ, _MOST_BEATS_HZ = 0.05, 12.0
_MOST_CENTS = 100.0


class Kind(StrEnum):
    """How the target comes about."""

    FLAT = "flat"
    OWN = "own"
    """Flat through its own middle C."""
    FOLLOW = "follow"
    """The leader's curve, even where that is off."""
    BEATS = "beats"
    """Beating against the leader, as evenly as base and scale can make it."""
    CENTS = "cents"
    """The same cents from the leader everywhere."""


@dataclass(frozen=True, slots=True)
class Target:
    """What is wanted.

    Attributes
    ----------
    kind
        How it comes about.
    leader
        Whose surveyed curve it goes by; empty for the first two kinds.
    amount
        Beats a second (the slowest wanted) or cents; negative below the leader.
    """

    kind: Kind = Kind.FLAT
    leader: str = ""
    amount: float = 0.0


FLAT = Target()
"""Equal temperament."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """The curve that comes of it, and the plan, where there is one to be written down."""

    curve: TargetCurve
    planned: DetunePlanned | None = None


def target_of(
    target: Target,
    oscillator: str,
    low: float,
    high: float,
    led: SurveyClosed | None,
    a4_hz: float = A4_HZ,
) -> Wanted:
    """Make the target curve of an oscillator.

    Parameters
    ----------
    target
        What is wanted.
    oscillator
        Whose target it is.
    low, high
        Range that matters, MIDI note numbers.
    led
        The leader's newest survey; None where there is none.
    a4_hz
        Pitch of A4, for the first two kinds.

    Raises
    ------
    InputError
        Where the leader was not surveyed, or the amount cannot be.
    """
    from pitchwright.procedures.surveyed import curve_followed
    from pitchwright.tracking import TargetCurve

    if target.kind in (Kind.FLAT, Kind.OWN):
        return Wanted(TargetCurve.flat(a4_hz))
    if led is None or target.leader == oscillator:
        raise refused("no leader", leader=target.leader)
    leader = curve_followed(target.leader, led.points, same_take=True)
    if target.kind is Kind.FOLLOW:
        return Wanted(leader)
    return _planned(target, oscillator, low, high, leader)


def _planned(
    target: Target, oscillator: str, low: float, high: float, leader: TargetCurve
) -> Wanted:
    from pitchwright.detune import constant, even
    from pitchwright.procedures.worked_out import DetunePlanned
    from pitchwright.tracking import TargetCurve

    names = (target.leader, oscillator)
    size = abs(target.amount)
    if target.kind is Kind.CENTS:
        if not 0.0 < size <= _MOST_CENTS:
            raise refused("no detune cents", amount=f"{target.amount:g}")
        plan = constant(target.amount, int(low), int(high), names)
    else:
        if not _LEAST_BEATS_HZ <= size <= _MOST_BEATS_HZ:
            raise refused("no detune beats", amount=f"{target.amount:g}")
        plan = even(target.amount, int(low), int(high), names)
    first, second = plan.voices
    # The plan's leader is at nothing from equal temperament; the real one is where it is.
    cents = {
        float(note): leader.cents_at(note) + own - led
        for note, own, led in zip(plan.notes, second.cents, first.cents, strict=True)
    }
    words = f"the planned detune of {oscillator}"
    return Wanted(TargetCurve.table(cents, words), DetunePlanned(plan))
