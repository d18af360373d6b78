"""A straight-line oscillator and a hand that does what a test says, for the parts of a trim."""

from __future__ import annotations

from collections.abc import Callable, Generator
from dataclasses import dataclass, field
from typing import Any

import pytest

from pitchwright.procedures.requests import (
    Ask,
    Chosen,
    Ended,
    Heard,
    Noted,
    NotePlayed,
    PlayNote,
    ReadingsTaken,
    Report,
    TakeReadings,
    Tell,
    TrackPoint,
    TurnWatched,
    Wait,
    Waited,
    WatchTurn,
)
from pitchwright.procedures.settings import TrimSettings
from pitchwright.procedures.trimming.state import Trimming
from pitchwright.tracking.point import Point
from pitchwright.trim import Known, Trimmer, TrimmerKind

U_CENTS = 0.03


@dataclass
class Line:
    """Errors on a line through a pivot, exact readings, and whatever a test plugs in."""

    base: float = 6.0
    scale: float = 4.0
    pivot_v: float = 0.0
    t_s: float = 0.0
    note: float = 60.0
    extra: Callable[[Line], float] = lambda _: 0.0
    hand: Callable[[Line, WatchTurn], TurnWatched] = lambda line, request: line.exactly(request)
    on_lift: Callable[[Line], None] = lambda _: None
    asked: list[Any] = field(default_factory=list)

    def cents(self, note: float) -> float:
        """The true error of a note now."""
        return self.base + self.scale * ((note - 24.0) / 12.0 - self.pivot_v) + self.extra(self)

    def heard(self, note: float | None = None) -> Heard:
        """A careful reading."""
        note = self.note if note is None else note
        f_hz = 440.0 * 2.0 ** ((note - 69.0) / 12.0 + self.cents(note) / 1200.0)
        return Heard("x", self.t_s, f_hz, U_CENTS)

    def move(self, trimmer: str, note: float, shift: float) -> None:
        """Turn a trimmer until a note has moved by so much."""
        if trimmer == "base":
            self.base += shift
        else:
            self.scale += shift / ((note - 24.0) / 12.0 - self.pivot_v)

    def watched(
        self, request: WatchTurn, ended: Ended, turned: float | None, track: list[float]
    ) -> TurnWatched:
        """What a turn left, its track a tenth of a second apart."""
        points = tuple(TrackPoint(self.t_s + 0.1 * k, cents) for k, cents in enumerate(track))
        self.t_s += 0.1 * len(track) + 0.5
        return TurnWatched(ended, self.heard(request.note), points, turned)

    def to(
        self, request: WatchTurn, cents: float, turned: float | None = 0.3, trimmer: str = ""
    ) -> TurnWatched:
        """Bring the reading to so many cents with a trimmer, the asked one unless told."""
        here = self.cents(request.note)
        self.move(trimmer or request.trimmer, request.note, cents - here)
        steps = [here + (cents - here) * k / 12.0 for k in range(13)]
        inside = abs(cents - request.aim_cents) <= request.window_cents
        ended = Ended.INSIDE if inside else Ended.OUTSIDE
        return self.watched(request, ended, turned, [here, here, here, *steps, cents, cents, cents])

    def exactly(self, request: WatchTurn) -> TurnWatched:
        """Stop at the aim."""
        return self.to(request, request.aim_cents)

    def answer(self, request: Any) -> Any:
        """Answer any request."""
        self.asked.append(request)
        if isinstance(request, PlayNote):
            self.note = request.note
            self.t_s += 1.0
            return NotePlayed(self.t_s)
        if isinstance(request, TakeReadings):
            self.t_s += 0.5
            return ReadingsTaken((self.heard(),))
        if isinstance(request, WatchTurn):
            self.note = request.note
            return self.hand(self, request)
        if isinstance(request, Wait):
            self.t_s = max(self.t_s, request.until_s)
            return Waited(self.t_s)
        if isinstance(request, Ask):
            self.t_s += 2.0
            self.on_lift(self)
            return Chosen(request.default)
        return Noted()

    def run(self, procedure: Generator[Any, Any, Any]) -> Any:
        """Answer until it ends; what it returns."""
        try:
            request = next(procedure)
            while True:
                request = procedure.send(self.answer(request))
        except StopIteration as stop:
            return stop.value

    def told(self) -> list[str]:
        """What was said."""
        return [str(one.finding) for one in self.asked if isinstance(one, Tell)]

    def of(self, kind: type[Any]) -> list[Any]:
        """The requests of one class."""
        return [one for one in self.asked if isinstance(one, kind)]

    def reported(self, kind: str) -> list[Any]:
        """The outcomes of one kind that were reported."""
        return [o.outcome for o in self.asked if isinstance(o, Report) and o.outcome.kind == kind]


@pytest.fixture
def make_state() -> Callable[..., Trimming]:
    """A trim right after its survey of a line."""

    def make(line: Line, *, known: bool = True, **settings: Any) -> Trimming:
        scale = Known(pivot_hz=32.703, u_pivot_v=0.01, at_zero_volts=True) if known else None
        settings.setdefault(
            "trimmers",
            (
                Trimmer("base", TrimmerKind.BASE_FINE),
                Trimmer("scale", TrimmerKind.SCALE, known=scale),
            ),
        )
        asked = TrimSettings("x", **settings)
        points = []
        for note in asked.notes:
            line.t_s += 1.5
            heard = line.heard(note)
            assert heard.f_hz is not None
            points.append(Point(note, (note - 24.0) / 12.0, heard.f_hz, U_CENTS, line.t_s))
        line.note = asked.notes[-1]
        return Trimming.from_survey(asked, tuple(points))

    return make


@pytest.fixture
def line() -> Line:
    """A line 6 cents sharp with 4 cents an octave too much about 0 V."""
    return Line()
