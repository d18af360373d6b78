"""How one trimmer acts, as far as it is known, and where it stands."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from pitchwright.trim.after_hand import Guess
from pitchwright.trim.aim import Lever
from pitchwright.trim.belief import Notes
from pitchwright.trim.pivot import PivotDensity
from pitchwright.trim.trimmer import Known, Trimmer

__all__ = ["Acting"]

_SPREAD_OVER_TRAVEL = 0.1
_ARM = 4.0
_SPRINGS = Guess(0.05, 0.25)
"""How far a trimmer that nothing is known of springs back, in cents at the note it moves most."""


@dataclass(frozen=True, slots=True, eq=False)
class Acting:
    """One trimmer in use.

    Attributes
    ----------
    trimmer
        Which, with its resolution as found out so far.
    pivot
        Where its shift is nothing (scale kinds only; otherwise without meaning).
    amount
        Sum of its moves so far, in the unit of its kind.
    low, high
        Amounts at which it was found to be at its end, else infinite.
    effect_per_turn, u_effect
        Change for a turn clockwise in its unit, and the relative uncertainty; None if not known.
    raises_clockwise
        Whether clockwise adds to its amount; None where not known.
    guessed
        Whether that rests on the instruction alone: clockwise was asked for first, and where the
        reading went was seen, but nobody told the turns.
    acted
        Whether it was seen moving the reading.
    dead
        Whether it was turned and nothing moved, time and again.
    springs
        How far it springs back once let go, in its unit, against the way it went last.
    visits
        How often the screwdriver went in.
    """

    trimmer: Trimmer
    pivot: PivotDensity
    amount: float = 0.0
    low: float = -math.inf
    high: float = math.inf
    effect_per_turn: float | None = None
    u_effect: float = 0.5
    raises_clockwise: bool | None = None
    guessed: bool = False
    acted: bool = False
    dead: bool = False
    springs: Guess = _SPRINGS
    visits: int = 0

    @classmethod
    def of(cls, trimmer: Trimmer, zero_hz: float) -> Acting:
        """Begin with what is known from before.

        Parameters
        ----------
        trimmer
            The trimmer.
        zero_hz
            Frequency that 0 V plays now, to place a pivot that is known in hertz.
        """
        known, kind, entry = trimmer.known, trimmer.trimmer_kind, trimmer.trimmer_kind.entry
        pivot = PivotDensity.unknown()
        if entry.pivot_v is not None or not entry.has_pivot:
            pivot = PivotDensity.at(entry.pivot_v or 0.0)
        elif known is not None and known.at_zero_volts:
            pivot = PivotDensity.near(0.0, known.u_pivot_v, at_zero=True)
        elif known is not None and known.pivot_hz is not None:
            pivot = PivotDensity.near(math.log2(known.pivot_hz / zero_hz), known.u_pivot_v)
        if known is not None and known.resolution_cents > trimmer.resolution_cents:
            trimmer = replace(trimmer, resolution_cents=known.resolution_cents)
        effect = known.effect_per_turn if known is not None else None
        springs = _SPRINGS if kind.is_base else Guess(_SPRINGS.mean / _ARM, _SPRINGS.u / _ARM)
        if known is not None and known.springs_back is not None:
            springs = Guess(known.springs_back, known.u_springs_back)
        return cls(
            trimmer,
            pivot,
            springs=springs,
            effect_per_turn=effect,
            u_effect=known.u_effect if known is not None and effect is not None else 0.5,
            raises_clockwise=None if effect is None else effect > 0.0,
        )

    def lever(self, notes: Notes) -> Lever:
        """What the planner may do with it now."""
        entry = self.trimmer.trimmer_kind.entry
        shape = entry.shape(notes.cv_v, notes.tuned_hz / 1000.0, np.array(self.pivot.best_v))
        u_shape = self.pivot.u_v if entry.has_pivot else 0.0
        # Where it stands is always allowed, however the ends were found.
        low, high = min(self.low - self.amount, 0.0), max(self.high - self.amount, 0.0)
        return Lever(self.trimmer, shape, low, high, u_shape)

    def moved(self, amount: float, turned: float | None) -> Acting:
        """Return it after a move that changed it by ``amount``, with ``turned`` turns if known."""
        effect, u_effect, sense = self.effect_per_turn, self.u_effect, self.raises_clockwise
        if turned is not None and abs(turned) > 0.02 and amount != 0.0:
            # A felt angle is good to about a tenth; the effect itself changes over the travel.
            u_new = math.hypot(0.1, 0.02 / abs(turned))
            seen = amount / turned
            if effect is None or effect * seen < 0.0:
                effect, u_effect = seen, u_new
            else:
                weight = u_new**-2 / (u_new**-2 + u_effect**-2)
                effect = effect + weight * (seen - effect)
                u_effect = max((u_new**-2 + u_effect**-2) ** -0.5, _SPREAD_OVER_TRAVEL / 2)
            sense = effect > 0.0
        return replace(
            self,
            amount=self.amount + amount,
            effect_per_turn=effect,
            u_effect=u_effect,
            raises_clockwise=sense,
            acted=True,
        )

    def went(self, raised: bool, *, towards: bool) -> Acting:
        """Return it after a turn of which nobody told the way, and where the reading went first.

        ``raised`` is whether its amount went up at first, ``towards`` whether that was towards the
        aim. A first turn is asked for clockwise; a later one that goes away from the aim takes a
        guess back.
        """
        if self.raises_clockwise is None:
            return replace(self, raises_clockwise=raised, guessed=True)
        if not self.guessed:
            return self
        if towards:
            return replace(self, guessed=False)
        return replace(self, raises_clockwise=not self.raises_clockwise)

    def sprung(self, springs: Guess) -> Acting:
        """Return it with what is known now of how it springs back."""
        return replace(self, springs=springs)

    def ended(self, sign: float) -> Acting:
        """Return it with its end found on the side of ``sign``."""
        if sign > 0.0:
            return replace(self, high=self.amount)
        return replace(self, low=self.amount)

    def most_turns(self, amount: float) -> float | None:
        """How many turns of the screwdriver are enough for ``amount``; None if not known."""
        if self.effect_per_turn is None:
            return None
        return abs(amount / self.effect_per_turn) * (1.3 + 2.0 * self.u_effect) + 0.15

    def known(self, zero_hz: float, hand: Guess) -> Known:
        """What to keep with the instrument; ``hand`` is what every note does as the hand goes."""
        entry = self.trimmer.trimmer_kind.entry
        found = entry.has_pivot and entry.pivot_v is None
        return Known(
            pivot_hz=zero_hz * 2.0**self.pivot.best_v if found else None,
            u_pivot_v=min(self.pivot.u_v, 20.0) if found else 0.0,
            at_zero_volts=found and self.pivot.is_spike,
            effect_per_turn=self.effect_per_turn,
            u_effect=self.u_effect,
            resolution_cents=self.trimmer.resolution_cents,
            springs_back=self.springs.mean,
            u_springs_back=self.springs.u,
            hand_cents=hand.mean,
            u_hand_cents=hand.u,
        )
