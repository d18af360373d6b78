"""The runner: drives any procedure on any bench and streams events to whoever subscribes.

The bench answers five kinds of request; telling and reporting need no answer but being passed on.
Everything that happens becomes one :class:`~pitchwright.procedures.events.Event`, so that a
subscriber sees the same stream whether the bench is a practice rig, a recording or live.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, datetime
from typing import Protocol, TypeVar

from pitchwright.bench.stop import Stop
from pitchwright.errors import PitchwrightError
from pitchwright.procedures.events import (
    Closed,
    Event,
    Happening,
    Interrupted,
    Procedure,
    Started,
    Turning,
    replay,
)
from pitchwright.procedures.plain import to_plain
from pitchwright.procedures.requests import (
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

__all__ = ["Bench", "Subscriber", "announce", "run"]

Result = TypeVar("Result")
Subscriber = Callable[[Event], None]
"""Is called with each event, in order."""


class Bench(Protocol):
    """What is connected: plays notes, listens, watches a turn, lets a person choose.

    The contract, which ``tests/bench/test_contract.py`` holds every bench to:

    - **A request says all.** A procedure that was stopped goes on in another process, on a bench
      that has just been opened: ``listen`` and ``watch`` may come without a ``play`` before them.
      The note is the one in the request, never one remembered; it is made to sound first if it
      does not.
    - **Every answer is of what was asked**: one reading for each oscillator asked for, in that
      order. What has no pitch is a reading without a frequency; what cannot be believed is a
      reading with doubts.
    - **The clock goes on.** It never falls, and where a procedure is resumed it begins at the last
      event. The time of a reading is that of the sound it was read from.
    - **What may be raised** is a ``PitchwrightError`` with its sentence (what, where, what to do)
      and ``StopAsked``; nothing else. A device that is gone is waited for first.
    - **A stop** is looked at wherever the bench waits, and raised from there. It leaves no answer
      behind: the request is put again on resuming. Nothing may be left half done in the bench, so
      that ``close``, where there is one, can still send the notes off and the voltage to 0.
    - One thread calls a bench; only what is said to be for any thread is.
    """

    def now_s(self) -> float:
        """Return the bench's clock in seconds."""

    def play(self, request: PlayNote) -> NotePlayed:
        """Have the note sound and stay."""

    def listen(self, request: TakeReadings) -> ReadingsTaken:
        """Read the note asked for, whether or not it was played before."""

    def watch(self, request: WatchTurn, live: Callable[[TrackPoint], None]) -> TurnWatched:
        """Have the trimmer turned; call ``live`` with each reading on the way."""

    def choose(self, request: Ask) -> Chosen:
        """Have the person choose."""

    def pass_time(self, request: Wait) -> Waited:
        """Let the time pass that is asked for, or less where the person has had enough."""


def run(
    procedure: Procedure[Result],
    bench: Bench,
    subscribers: Sequence[Subscriber] = (),
    *,
    name: str,
    settings: object,
    earlier: Iterable[Event] = (),
    stop: Stop | None = None,
) -> Result:
    """Drive a procedure to its end.

    Parameters
    ----------
    procedure
        A generator that was not started.
    bench
        Who answers.
    subscribers
        Who is told; a live reading (``turning``) is told but not meant to be kept.
    name, settings
        What goes into the first event.
    earlier
        Events of an interrupted run to go on from; they are not sent again.
    stop
        The wish to stop, looked at before each request; the bench looks at it while it waits.

    Raises
    ------
    PitchwrightError
        From procedure or bench, after the event that says so was sent.
    StopAsked
        Where a stop was asked for, after the event that says so was sent.
    """
    before = list(earlier)
    number = before[-1].number if before else 0

    def send(what: Happening) -> None:
        nonlocal number
        number += 1
        _hand_on(number, bench.now_s(), what, subscribers)

    send(Started(name, to_plain(settings), resumed=bool(before)))
    try:
        request: Request | None
        if before:
            request, result = replay(procedure, before)
            if request is None:
                send(Closed(name))
                return result  # type: ignore[return-value]
        else:
            request = next(procedure)
        while True:
            if stop is not None:
                stop.look()
            request = procedure.send(_answer(request, bench, send))
    except StopIteration as stop:
        send(Closed(name))
        finished: Result = stop.value
        return finished
    except PitchwrightError as error:
        send(Interrupted(error.sentence))
        raise
    except (KeyboardInterrupt, EOFError):
        send(Interrupted("Stopped by the person; it can go on from here."))
        raise


def announce(
    outcome: Happening, subscribers: Sequence[Subscriber], *, name: str, settings: object
) -> None:
    """Tell subscribers what was worked out without a bench, as if it were a procedure of its own.

    Parameters
    ----------
    outcome
        What was worked out.
    subscribers
        Who is told.
    name, settings
        What goes into the first event.
    """
    told = (Started(name, to_plain(settings)), outcome, Closed(name))
    for number, what in enumerate(told, 1):
        _hand_on(number, 0.0, what, subscribers)


def _hand_on(number: int, t_s: float, what: Happening, subscribers: Sequence[Subscriber]) -> None:
    at = datetime.now(UTC).isoformat(timespec="milliseconds")
    event = Event(number, t_s, at, what)
    for subscriber in subscribers:
        subscriber(event)


def _answer(request: Request, bench: Bench, send: Callable[[Happening], None]) -> Answer:
    if isinstance(request, Report):
        send(request.outcome)
        return Noted()
    send(request)
    if isinstance(request, Tell):
        return Noted()
    answer: NotePlayed | ReadingsTaken | TurnWatched | Waited | Chosen
    if isinstance(request, PlayNote):
        answer = bench.play(request)
    elif isinstance(request, TakeReadings):
        answer = bench.listen(request)
    elif isinstance(request, WatchTurn):
        answer = bench.watch(request, lambda point: send(Turning(point)))
    elif isinstance(request, Wait):
        answer = bench.pass_time(request)
    else:
        answer = bench.choose(request)
    send(answer)
    return answer
