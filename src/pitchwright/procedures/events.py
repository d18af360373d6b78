"""The event stream: everything that happens, in order, the same for every subscriber.

An event holds a number, two times and what happened: a request, its answer, or an outcome. A
procedure has no state but what its answers made of it, so the events are the state: sending the
recorded answers to a new generator of the same settings brings it to the very request at which it
stopped (:func:`replay`).
"""

from __future__ import annotations

from collections.abc import Generator, Iterable
from dataclasses import dataclass, replace
from typing import Any, ClassVar, TypeVar

from pitchwright.errors import InputError
from pitchwright.procedures.outcomes import (
    CurveKnown,
    EnsembleSeen,
    ForecastMade,
    PairsHeard,
    SurveyClosed,
    TrimmerLearned,
    VerdictGiven,
)
from pitchwright.procedures.plain import from_plain, to_plain
from pitchwright.procedures.requests import (
    ANSWER_TO,
    Answer,
    Ask,
    Chosen,
    Noted,
    NotePlayed,
    PlayNote,
    ReadingsTaken,
    Report,
    Request,
    TakeReadings,
    Tell,
    TrackPoint,
    TurnWatched,
    Wait,
    Waited,
    WatchTurn,
)
from pitchwright.procedures.worked_out import CorrectionsMade, DetunePlanned, RouteSolved

__all__ = [
    "Closed",
    "Event",
    "Happening",
    "Interrupted",
    "Procedure",
    "Started",
    "Turning",
    "replay",
]

Result = TypeVar("Result")
Procedure = Generator[Request, Answer, Result]
"""What a procedure is: yields requests, is sent answers, returns its result."""


@dataclass(frozen=True, slots=True)
class Started:
    """A procedure begins, or goes on after an interruption.

    Attributes
    ----------
    procedure
        Its name: ``survey``, ``guided trim``.
    settings
        What it was made with, as plain values.
    resumed
        Whether it goes on from earlier events.
    """

    kind: ClassVar[str] = "started"
    procedure: str
    settings: Any
    resumed: bool = False


@dataclass(frozen=True, slots=True)
class Turning:
    """One live reading while a trimmer is turned; shown, and kept only within the answer."""

    kind: ClassVar[str] = "turning"
    point: TrackPoint


@dataclass(frozen=True, slots=True)
class Interrupted:
    """The procedure stopped before its end; it can go on from the events so far."""

    kind: ClassVar[str] = "interrupted"
    sentence: str


@dataclass(frozen=True, slots=True)
class Closed:
    """The procedure came to its end."""

    kind: ClassVar[str] = "closed"
    procedure: str


Happening = (
    Started
    | PlayNote
    | NotePlayed
    | TakeReadings
    | ReadingsTaken
    | WatchTurn
    | Turning
    | TurnWatched
    | Wait
    | Waited
    | Tell
    | Ask
    | Chosen
    | SurveyClosed
    | CurveKnown
    | TrimmerLearned
    | VerdictGiven
    | ForecastMade
    | PairsHeard
    | EnsembleSeen
    | RouteSolved
    | DetunePlanned
    | CorrectionsMade
    | Interrupted
    | Closed
)


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened.

    Attributes
    ----------
    number
        Counted from 1 over the whole procedure, resumed parts included.
    t_s
        On the bench's clock, seconds.
    at
        Date and time, ISO 8601 in UTC.
    what
        What happened; ``what.kind`` is a stable name.
    """

    number: int
    t_s: float
    at: str
    what: Happening

    @property
    def kind(self) -> str:
        """The stable name of what happened."""
        return self.what.kind

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON; :meth:`from_dict` gives the same event back."""
        plain: dict[str, Any] = to_plain(self)
        return plain

    @classmethod
    def from_dict(cls, plain: Any) -> Event:
        """Read an event back; InputError where the values are not those of one."""
        event: Event = from_plain(plain, cls, "event")
        return event


def replay(
    procedure: Procedure[Result], events: Iterable[Event]
) -> tuple[Request | None, Result | None]:
    """Bring a new procedure to where the events end.

    Parameters
    ----------
    procedure
        A generator that was not started, made with the settings that the events began with.
    events
        In order, from the beginning.

    Returns
    -------
    Request or None, result or None
        The request that waits for its answer; or, where the procedure came to its end, None and
        its result.

    Raises
    ------
    InputError
        Where the events are not those of this procedure.
    """
    happenings = iter([e.what for e in events if isinstance(e.what, _REPLAYED)])
    request: Request
    try:
        request = next(procedure)
        while True:
            if isinstance(request, (Tell, Report)):
                shown = request.outcome if isinstance(request, Report) else request
                happening = next(happenings, None)
                if happening is None:
                    return request, None
                _same(shown, happening)
                request = procedure.send(Noted())
                continue
            happening = next(happenings, None)
            while happening == request:  # asked again after an interruption
                happening = next(happenings, None)
            if happening is None:
                return request, None
            answer_kind = ANSWER_TO[type(request)]
            if not isinstance(happening, answer_kind):
                _same(answer_kind, happening)
            request = procedure.send(happening)  # type: ignore[arg-type]
    except StopIteration as stop:
        return None, stop.value


_REPLAYED = (
    PlayNote,
    NotePlayed,
    TakeReadings,
    ReadingsTaken,
    WatchTurn,
    TurnWatched,
    Wait,
    Waited,
    Tell,
    Ask,
    Chosen,
    SurveyClosed,
    CurveKnown,
    TrimmerLearned,
    VerdictGiven,
    ForecastMade,
    PairsHeard,
    EnsembleSeen,
)


def _same(wanted: Any, happening: Any) -> None:
    if isinstance(happening, SurveyClosed) and happening.circumstances is None:
        # From before they were noted: the readings alone say whether it is the same.
        happening = replace(happening, circumstances=getattr(wanted, "circumstances", None))
    if wanted != happening:
        raise InputError(
            f"These events belong to another procedure: “{wanted.kind}” was expected,"
            f" “{happening.kind}” is recorded"
        )
