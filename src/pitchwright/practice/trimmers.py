"""A trimmer as a screw and what it does: pure values, turned by making a new one.

Backlash, stiction, range ends, resolution, taper, springing back and a sense that may be reversed
are what makes a real trimmer harder to set than a number; they all live here, and nothing here
knows what an oscillator is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from pitchwright.errors import InternalError
from pitchwright.trim.kinds import TrimmerKind

__all__ = ["Trimmer"]


@dataclass(frozen=True, slots=True)
class Trimmer:
    """One trimmer where it stands now.

    The effect is in cents for a base trimmer, cents per octave for scale and for a buffered output
    (about 0 V), and nanoseconds of compensation for the high end (more is sharper). Per turn it is
    not constant: it is ``per_turn`` in the middle of the travel and changes by the share ``change``
    from one end to the other.

    Attributes
    ----------
    kind
        What it acts on, which also says in which unit.
    per_turn
        Effect of one turn at mid travel, in the unit of ``kind``, before ``reversed_sense``.
    travel_turns
        From one end to the other; beyond the ends the screw slips without effect.
    screw_turns
        Where the screwdriver has it, counted from the lower end.
    wiper_turns
        Where the wiper is; lags the screw by up to half of ``backlash_turns``.
    change
        Relative change of the effect per turn over the whole travel (common practice: a tenth).
    reversed_sense
        Whether turning clockwise (positive turns) lowers instead of raises.
    step_turns
        Resolution: the wiper rests only on multiples of this; 0 for a smooth track.
    backlash_turns
        Play between screw and wiper, felt whenever the direction changes.
    ahead_of_scale
        Base trimmers only: summed before the scale trimmer, which then acts on it too.
    stick_turns
        Stiction: the wiper stands until the screw has run this far from it, then follows at once.
    spring_turns
        How far the wiper springs back against the last way it went once the hand lets go.
    way
        Which way the wiper went last: 1 clockwise, -1 counter-clockwise, 0 since it was let go.
    """

    kind: TrimmerKind
    per_turn: float
    travel_turns: float
    screw_turns: float
    wiper_turns: float
    change: float = 0.1
    reversed_sense: bool = False
    step_turns: float = 0.0
    backlash_turns: float = 0.0
    ahead_of_scale: bool = False
    stick_turns: float = 0.0
    spring_turns: float = 0.0
    way: int = 0

    @classmethod
    def at(
        cls,
        kind: TrimmerKind,
        per_turn: float,
        *,
        travel_turns: float = 12.0,
        position_turns: float | None = None,
        change: float = 0.1,
        reversed_sense: bool = False,
        step_turns: float = 0.0,
        backlash_turns: float = 0.0,
        ahead_of_scale: bool = False,
        stick_turns: float = 0.0,
        spring_turns: float = 0.0,
    ) -> Trimmer:
        """Return a trimmer resting at ``position_turns`` (mid travel unless given)."""
        if per_turn <= 0.0 or travel_turns <= 0.0 or not -2.0 < change < 2.0:
            raise InternalError(f"A {kind} trimmer needs an effect and a travel, both positive")
        position = travel_turns / 2.0 if position_turns is None else position_turns
        return cls(
            kind=TrimmerKind(kind),
            per_turn=per_turn,
            travel_turns=travel_turns,
            screw_turns=position,
            wiper_turns=position,
            change=change,
            reversed_sense=reversed_sense,
            step_turns=step_turns,
            backlash_turns=backlash_turns,
            ahead_of_scale=ahead_of_scale,
            stick_turns=stick_turns,
            spring_turns=spring_turns,
        )

    def turned(self, turns: float) -> Trimmer:
        """Return the trimmer after ``turns`` of the screwdriver, clockwise positive."""
        play = self.backlash_turns / 2.0
        screw = self.screw_turns + turns
        wiper = min(max(self.wiper_turns, screw - play), screw + play)
        wiper = min(max(wiper, 0.0), self.travel_turns)
        at_end = wiper in (0.0, self.travel_turns)
        if abs(wiper - self.wiper_turns) < self.stick_turns and not at_end:
            return replace(self, screw_turns=screw)
        # At an end the clutch slips, so turning back bites at once, after the play.
        screw = min(max(screw, wiper - play), wiper + play)
        way = int(math.copysign(1.0, wiper - self.wiper_turns)) if wiper != self.wiper_turns else 0
        return replace(self, screw_turns=screw, wiper_turns=wiper, way=way or self.way)

    def let_go(self) -> Trimmer:
        """Return the trimmer once the hand is off: it springs back a little, once."""
        wiper = self.wiper_turns - self.way * self.spring_turns
        wiper = min(max(wiper, 0.0), self.travel_turns)
        return replace(self, wiper_turns=wiper, screw_turns=wiper, way=0)

    @property
    def at_end(self) -> bool:
        """Whether the wiper rests at an end of the travel."""
        return not 1e-9 < self.wiper_turns < self.travel_turns - 1e-9

    @property
    def effect(self) -> float:
        """What it adds now, in the unit of ``kind``; zero at mid travel."""
        wiper = self.wiper_turns
        if self.step_turns > 0.0:
            wiper = round(wiper / self.step_turns) * self.step_turns
        from_mid = wiper - self.travel_turns / 2.0
        amount = self.per_turn * from_mid * (1.0 + self.change * from_mid / (2 * self.travel_turns))
        return -amount if self.reversed_sense else amount

    @property
    def effect_per_turn(self) -> float:
        """Slope of the effect at the wiper, in the unit of ``kind`` per turn, sense included."""
        from_mid = self.wiper_turns - self.travel_turns / 2.0
        slope = self.per_turn * (1.0 + self.change * from_mid / self.travel_turns)
        return -slope if self.reversed_sense else slope
