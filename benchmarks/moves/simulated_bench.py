"""A bench on a simulated rig: answers requests, keeps the books on notes, stops and time."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from benchmarks.moves.rigs import READING_CENTS, Rig

from pitchwright.practice.hands import Hand, Slip
from pitchwright.procedures.requests import (
    Answer,
    Ask,
    Chosen,
    Ended,
    Heard,
    Noted,
    NotePlayed,
    PlayNote,
    ReadingsTaken,
    Request,
    TakeReadings,
    Tell,
    TrackPoint,
    TurnWatched,
    Wait,
    Waited,
    WatchTurn,
)

__all__ = ["SimulatedBench"]


@dataclass(slots=True)
class SimulatedBench:
    """Answers every request of a procedure at once.

    A note costs ``note_s``; another reading of the same note half a second; putting the
    screwdriver in 15 to 30 s; taking it out and the hand away 3 s; turning what the hand takes.
    Somebody who plays gives another note now and then (``wrong_note``).
    """

    rig: Rig
    hand: Hand
    note_s: float
    reach: tuple[str, ...]
    wrong_note: float = 0.0
    says_turns: bool = True
    notes: int = 0
    stops: int = 0
    visits: int = 0
    waited_s: float = 0.0
    wrong_notes: int = 0
    told: list[str] = field(default_factory=list)
    sentences: list[str] = field(default_factory=list)
    asked: list[tuple[str, float]] = field(default_factory=list)
    ended: set[str] = field(default_factory=set)
    coarse: set[str] = field(default_factory=set)

    def answer(self, request: Request) -> Answer:
        """Answer any request."""
        if isinstance(request, PlayNote):
            again = request.note == self.rig.note and self.notes > 0
            self.notes += not again
            note = request.note
            if not again and self.rig.rng.random() < self.wrong_note:
                self.wrong_notes += 1
                note += float(self.rig.rng.choice((-12.0, -1.0, 1.0, 2.0, 12.0)))
                note = min(max(note, 24.0), 84.0)
            self.rig.play(note)
            self.rig.wait(0.1 if again else self.note_s - 0.5)
            return NotePlayed(self.rig.now_s())
        if isinstance(request, TakeReadings):
            self.rig.wait(0.5)
            return ReadingsTaken((self.heard(),))
        if isinstance(request, WatchTurn):
            return self.watch(request)
        if isinstance(request, Tell):
            self.told.append(request.finding)
            self.sentences.append(request.sentence)
            return Noted()
        if isinstance(request, Wait):
            begun = self.rig.t_s
            self.rig.wait(request.until_s - self.rig.t_s)
            self.waited_s += self.rig.t_s - begun
            return Waited(self.rig.now_s())
        if isinstance(request, Ask):
            if request.question == "hand away":
                self.rig.wait(3.0)
                self.rig.hand_away()
            return Chosen(request.default)
        return Noted()

    def heard(self) -> Heard:
        """Return a careful reading of the note that sounds."""
        noisy = self.rig.heard_cents(READING_CENTS)
        f_hz = 440.0 * 2.0 ** ((self.rig.note - 69.0) / 12.0 + noisy / 1200.0)
        return Heard("x", self.rig.now_s(), f_hz, READING_CENTS)

    def watch(self, request: WatchTurn) -> TurnWatched:
        """Have the hand turn, and note down what went wrong in truth."""
        wanted = request.aim_cents - request.start_cents
        if request.visit != self.visits:
            self.visits = request.visit
            self.rig.wait(float(self.rig.rng.uniform(15.0, 30.0)))
            self.rig.put_in(self.hand.take_up(request.trimmer, self.reach, wanted))
        elif (slipped := self.hand.go_on(request.trimmer, self.reach, wanted)) != self.rig.in_hand:
            self.rig.put_in(slipped)
        if self.rig.note != request.note:
            self.rig.play(request.note)
        self.stops += 1
        self.asked.append((request.trimmer, wanted))
        self.sentences.append(request.sentence)
        before = len(self.hand.slips)
        turned = self.hand.turn(
            self.rig,
            asked=request.trimmer,
            start_cents=request.start_cents,
            aim_cents=request.aim_cents,
            low_cents=request.low_cents,
            high_cents=request.high_cents,
            most_turns=request.most_turns,
            clockwise=request.clockwise,
            may_bump=self.hand.in_hand != "base",
        )
        if request.clockwise is None:  # nobody knew the way, so it was nobody's fault
            self.hand.slips = [
                replace(slip, asked_cents=0.0) if k >= before and slip.what == "wrong way" else slip
                for k, slip in enumerate(self.hand.slips)
            ]
        self.rig.wait(0.5)
        screw = self.rig.screws[self.hand.in_hand]
        at_cents = self.rig.true_cents(self.rig.note)
        left = abs(at_cents - request.aim_cents)
        # An end beyond the aim is in nobody's way: the hand ran past, and turns back.
        short = (request.aim_cents - at_cents) * wanted > 0.0
        missed = short and left > request.window_cents + 0.3 and not request.probe
        wanted = abs(wanted)
        if screw.at_end and missed and self.hand.in_hand not in self.ended:
            self.ended.add(self.hand.in_hand)
            self.hand.slips.append(Slip("at its end", request.trimmer, left, wanted))
        if screw.step_turns and request.trimmer not in self.coarse and turned.stopped != "limit":
            # Too coarse for this aim: no level of the screw lies in the window.
            nearest = self.rig.nearest_level(self.hand.in_hand, request.aim_cents)
            too_coarse = nearest > request.window_cents + 0.1 and not request.probe
            self.coarse.update({request.trimmer} if too_coarse else ())
            slip = Slip("too coarse", request.trimmer, nearest, wanted if too_coarse else 0.0)
            self.hand.slips.append(slip)
        after = self.heard()
        at = 1200.0 * np.log2(after.f_hz / request.tuned_hz) if after.f_hz else 0.0
        inside = abs(at - request.aim_cents) <= request.window_cents
        ended = {
            "still": Ended.STILL,
            "limit": Ended.LIMIT,
            "there": Ended.OUTSIDE,
        }[turned.stopped]
        if inside and turned.stopped != "limit":
            ended = Ended.INSIDE
        track = tuple(TrackPoint(t_s, cents) for t_s, cents in turned.track)
        return TurnWatched(ended, after, track, turned.turns if self.says_turns else None)
