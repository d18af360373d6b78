"""What is known of a trimmer: its kind, whether it may be touched, and how it acts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from pitchwright.errors import InputError
from pitchwright.trim.kinds import TrimmerKind

__all__ = ["Known", "Trimmer", "TrimmerKind"]


@dataclass(frozen=True, slots=True)
class Known:
    """How a trimmer was seen to act; kept with the instrument, so the next time starts knowing.

    Attributes
    ----------
    pivot_hz
        Frequency that a scale trimmer leaves alone; None where not known or not a scale trimmer.
    u_pivot_v
        Its standard uncertainty, in volts at one volt per octave.
    at_zero_volts
        Whether the pivot is at 0 V, in the control voltage's own leg, whatever plays there.
    effect_per_turn
        Change for one turn clockwise in the unit of its kind, sense included; None if not known.
    u_effect
        Its relative standard uncertainty (it changes by about a tenth over the travel).
    resolution_cents
        Steps it was found to move in, at the far end of the range; 0 where it is finer than the
        hand.
    springs_back, u_springs_back
        How far it springs back against the way it went last once it is let go, in the unit of its
        kind, and the standard uncertainty; None where it was never heard.
    hand_cents, u_hand_cents
        What every note does once the hand that turned it has gone and what it warmed has cooled,
        and the standard uncertainty; None where it was never heard.
    """

    kind: ClassVar[str] = "known"
    pivot_hz: float | None = None
    u_pivot_v: float = 0.0
    at_zero_volts: bool = False
    effect_per_turn: float | None = None
    u_effect: float = 0.1
    resolution_cents: float = 0.0
    springs_back: float | None = None
    u_springs_back: float = 0.0
    hand_cents: float | None = None
    u_hand_cents: float = 0.0


@dataclass(frozen=True, slots=True)
class Trimmer:
    """One trimmer that the user has.

    Attributes
    ----------
    name
        The user's own name for it.
    trimmer_kind
        What it acts on.
    may_touch
        Whether it may be turned.
    inside
        Whether the module must be taken out to reach it.
    resolution_cents
        Smallest change of the reading that can be set with it at the far end of the range; 0
        where it is finer than the hand.
    known
        How it acted before, where that is known.
    """

    name: str
    trimmer_kind: TrimmerKind
    may_touch: bool = True
    inside: bool = False
    resolution_cents: float = 0.0
    known: Known | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        object.__setattr__(self, "trimmer_kind", TrimmerKind(self.trimmer_kind))
        if not self.name.strip():
            raise InputError("A trimmer needs a name", "trimmers")
        if not 0.0 <= self.resolution_cents < 1200.0:
            raise InputError("A trimmer's resolution is in cents, 0 or more", self.name)
