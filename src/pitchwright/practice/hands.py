"""A simulated person with a screwdriver.

The hand hears an instruction (which trimmer, which reading to stop at), turns in closed loop on
the live reading, and does what hands do: feels for the effect first, sometimes the wrong way,
overshoots, takes up backlash, stops near but not at the aim, sometimes sits in the wrong trimmer
or knocks the base knob. What it did wrong is written down, so that a test can compare.

The hand knows nothing of oscillators: it acts on a :class:`Workpiece`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

__all__ = ["Habits", "Hand", "Person", "Slip", "Turned", "Workpiece"]

_STEP_S = 0.1
_FASTEST_TURNS, _FASTEST_CENTS = 0.1, 5.0
"""Most in a tenth of a second: what a wrist does, and what an eye on the reading can follow."""


class Workpiece(Protocol):
    """What a hand can do to an instrument, and what it sees meanwhile."""

    def turn(self, trimmer: str, turns: float) -> None:
        """Turn a trimmer by so many turns, clockwise positive."""

    def bump(self, cents: float) -> None:
        """Knock the base knob by so many cents."""

    def live_cents(self) -> float:
        """Return the live reading of the note that sounds."""

    def wait(self, seconds: float) -> None:
        """Let time pass."""

    def now_s(self) -> float:
        """Return the time in seconds."""


@dataclass(frozen=True, slots=True)
class Habits:
    """How good a hand is.

    Attributes
    ----------
    stop_sd_cents
        Standard deviation of where it stops about the aim.
    overshoot
        Share of the way that it runs past the aim before it turns back, at most.
    wrong_way, wrong_trimmer, bump
        Probability of each slip: of a turn, of a visit, of a turn.
    slips_over
        Probability of each later turn of a visit that the screwdriver has slipped into another.
    stops_early
        Probability of each turn that it is given up somewhere on the way.
    bump_cents
        Least and most that a knock moves the base.
    slip_from_cents
        Slips happen only where a change at least this large is asked for.
    most_slips
        No more than so many in all.
    """

    stop_sd_cents: float = 0.5
    overshoot: float = 0.15
    wrong_way: float = 0.0
    wrong_trimmer: float = 0.0
    bump: float = 0.0
    slips_over: float = 0.0
    stops_early: float = 0.0
    bump_cents: tuple[float, float] = (3.0, 15.0)
    slip_from_cents: float = 1.5
    most_slips: int = 1000


@dataclass(frozen=True, slots=True)
class Slip:
    """One thing that went wrong, as it truly was.

    Attributes
    ----------
    what
        ``wrong way``, ``wrong trimmer``, ``bumped base knob``, ``at its end``, ``too coarse``.
    trimmer
        The trimmer that was asked for.
    cents
        How large it was.
    asked_cents
        How large a change was asked for at that turn.
    """

    what: str
    trimmer: str
    cents: float
    asked_cents: float


@dataclass(frozen=True, slots=True)
class Turned:
    """One turn as the hand felt and saw it.

    Attributes
    ----------
    turns
        Net turns it thinks it made, clockwise positive (within a tenth).
    track
        Time in seconds and live reading in cents, in order.
    stopped
        ``there``, ``still`` (nothing moves any more), ``limit``.
    """

    turns: float
    track: tuple[tuple[float, float], ...]
    stopped: str


class Person:
    """Someone real who turns simulated trimmers: the screwdriver is where it was asked to be."""

    def take_up(self, trimmer: str, within_reach: tuple[str, ...], asked_cents: float) -> str:
        """Which trimmer the screwdriver is in."""
        del within_reach, asked_cents
        return trimmer


@dataclass(slots=True)
class Hand:
    """A person who does what the requests say, more or less.

    Attributes
    ----------
    rng
        Where its whims come from.
    habits
        How good it is.
    slips
        What went wrong so far.
    felt
        Cents per turn as felt in this visit; 0 before anything moved.
    """

    rng: np.random.Generator
    habits: Habits = field(default_factory=Habits)
    slips: list[Slip] = field(default_factory=list)
    _in_hand: str = ""
    felt: float = 0.0
    _made: int = 0

    def take_up(self, trimmer: str, within_reach: tuple[str, ...], asked_cents: float) -> str:
        """Put the screwdriver in; return the trimmer it is really in."""
        others = [name for name in within_reach if name != trimmer]
        self._in_hand = trimmer
        self.felt = 0.0
        enough = abs(asked_cents) >= self.habits.slip_from_cents
        if others and enough and self.slips_now(self.habits.wrong_trimmer):
            self._in_hand = others[int(self.rng.integers(len(others)))]
            self.slips.append(Slip("wrong trimmer", trimmer, abs(asked_cents), abs(asked_cents)))
        return self._in_hand

    def go_on(self, trimmer: str, within_reach: tuple[str, ...], asked_cents: float) -> str:
        """Stay in the trimmer for another turn, or slip into one beside it."""
        others = [name for name in within_reach if name != self._in_hand]
        enough = abs(asked_cents) >= self.habits.slip_from_cents
        if others and enough and self.slips_now(self.habits.slips_over):
            self._in_hand, self.felt = others[int(self.rng.integers(len(others)))], 0.0
            if self._in_hand != trimmer:
                slip = Slip("wrong trimmer", trimmer, abs(asked_cents), abs(asked_cents))
                self.slips.append(slip)
        return self._in_hand

    def turn(
        self,
        work: Workpiece,
        *,
        asked: str,
        start_cents: float,
        aim_cents: float,
        low_cents: float,
        high_cents: float,
        most_turns: float | None,
        clockwise: bool | None,
        may_bump: bool = True,
    ) -> Turned:
        """Turn what the screwdriver is in until the reading stands about at the aim."""
        return _OneTurn(self, work, asked).run(
            start_cents,
            aim_cents,
            (low_cents, high_cents),
            np.inf if most_turns is None else most_turns,
            clockwise,
            may_bump,
        )

    def slips_now(self, probability: float) -> bool:
        """Whether it slips this time."""
        if probability <= 0.0 or self._made >= self.habits.most_slips:
            return False
        made = bool(self.rng.random() < probability)
        self._made += made
        return made

    @property
    def in_hand(self) -> str:
        """The trimmer that the screwdriver is in."""
        return self._in_hand


class _OneTurn:
    """State of one turn in the making."""

    def __init__(self, hand: Hand, work: Workpiece, asked: str) -> None:
        self.hand, self.work, self.asked = hand, work, asked
        self.rng, self.habits = hand.rng, hand.habits
        self.net = 0.0
        self.track: list[tuple[float, float]] = []
        self.gain = 0.0  # cents per turn at this note, as felt in this turn

    def see(self) -> float:
        cents = self.work.live_cents()
        self.track.append((self.work.now_s(), cents))
        return cents

    def step(self, turns: float) -> float:
        """Turn a little within a tenth of a second, and look."""
        turns *= 1.0 + 0.15 * self.rng.standard_normal()
        self.work.turn(self.hand.in_hand, turns)
        self.net += turns
        self.work.wait(_STEP_S)
        return self.see()

    def run(
        self,
        start: float,
        aim: float,
        limits: tuple[float, float],
        most_turns: float,
        clockwise: bool | None,
        may_bump: bool,
    ) -> Turned:
        rng, habits = self.rng, self.habits
        enough = abs(aim - start) >= habits.slip_from_cents
        direction = 1.0 if clockwise is None or clockwise else -1.0
        if clockwise is None and self.hand.felt:
            direction = np.sign(aim - start) * np.sign(self.hand.felt)
        if enough and self.hand.slips_now(habits.wrong_way):
            direction = -direction
        bump_at = np.inf
        if may_bump and enough and self.hand.slips_now(habits.bump):
            bump_at = abs(aim - start) * rng.uniform(0.2, 0.8)
        for _ in range(int(rng.integers(2, 5))):
            self.work.wait(_STEP_S)
            here = self.see()
        # Overshoot of the first approach, then the stop.
        past = min(abs(rng.normal(0.0, 0.5 * habits.overshoot)) * abs(aim - here), 3.0)
        goals = [aim + np.sign(aim - here) * past, aim + rng.normal(0.0, habits.stop_sd_cents)]
        if past < 0.3:
            goals = goals[1:]
        stopped, wrong_way = self.feel(start, aim, direction, limits, most_turns)
        if wrong_way > 0.0:
            self.hand.slips.append(Slip("wrong way", self.asked, wrong_way, abs(aim - start)))
        if stopped:
            return self.done(stopped)
        self.hand.felt = self.gain
        if enough and self.hand.slips_now(habits.stops_early):
            goals = [here + rng.uniform(0.3, 0.8) * (aim - here)]
        for goal in goals:
            stopped, bump_at = self.approach(goal, start, limits, most_turns, bump_at)
            if stopped:
                return self.done(stopped)
        return self.done("there")

    def feel(
        self,
        start: float,
        aim: float,
        direction: float,
        limits: tuple[float, float],
        most_turns: float,
    ) -> tuple[str, float]:
        """Turn gently until the reading moves; turn round where it moves the wrong way."""
        towards = np.sign(aim - start) or 1.0
        before, made, speed, wrong = self.track[-1][1], 0.0, 0.004, 0.0
        need = min(0.8, 0.5 * abs(aim - start) + 0.3)
        for _ in range(200):
            here = self.step(direction * speed)
            made += direction * speed
            moved = here - before
            if not limits[0] < here < limits[1]:
                # One step of a coarse screw may go over the limit before anything was noticed.
                return "limit", wrong or max(-moved * towards, 0.0)
            if abs(moved) > need:
                if moved * towards > 0.0:
                    self.gain = moved / made if made else 0.0
                    return "", wrong
                if wrong == 0.0:
                    for _ in range(2):  # the time it takes to notice
                        here = self.step(direction * speed)
                    wrong = abs(here - before)
                    direction, before, made = -direction, here, 0.0
                    need = min(0.8, need)
                    continue
            if abs(self.net) > min(most_turns, 2.5):
                return "still" if abs(here - before) < 0.6 else "limit", wrong
            speed = min(speed * 1.2, 0.03)
        return "still", wrong

    def approach(
        self,
        goal: float,
        start: float,
        limits: tuple[float, float],
        most_turns: float,
        bump_at: float,
    ) -> tuple[str, float]:
        """Close in on a reading; say why it stopped early, if it did."""
        here = self.track[-1][1]
        flips, idle, stood_at = 0, 0.0, here
        side = np.sign(goal - here)
        for _ in range(250):
            if not limits[0] < here < limits[1]:
                return "limit", bump_at
            if abs(self.net) > most_turns:
                return "limit", bump_at
            if abs(goal - here) < 0.12 or flips >= 5:
                return "", bump_at
            if abs(here - start) >= bump_at:
                bump_at = np.inf
                size = self.rng.uniform(*self.habits.bump_cents) * self.rng.choice((-1.0, 1.0))
                self.work.bump(float(size))
                slip = Slip("bumped base knob", self.asked, abs(float(size)), abs(goal - start))
                self.hand.slips.append(slip)
            gain = self.gain if abs(self.gain) > 1.0 else np.sign(self.gain or 1.0)
            fastest = min(_FASTEST_TURNS, _FASTEST_CENTS / abs(gain))
            want = float(np.clip(0.35 * (goal - here) / gain, -fastest, fastest))
            here = self.step(want)
            idle += abs(want)
            if abs(here - stood_at) > 0.4:
                idle, stood_at = 0.0, here
            if idle > 0.6 and abs(goal - here) > 0.5:
                return "still", bump_at
            if np.sign(goal - here) not in (0.0, side):
                side, flips = np.sign(goal - here), flips + 1
        return "still", bump_at

    def done(self, stopped: str) -> Turned:
        for _ in range(3):
            self.work.wait(_STEP_S)
            self.see()
        felt = self.net * (1.0 + 0.1 * float(self.rng.standard_normal()))
        return Turned(felt, tuple(self.track), stopped)
