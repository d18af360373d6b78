"""What a procedure asks for, and what it gets back: frozen values, no I/O, no clock.

A procedure is a generator: it yields a request and is sent the answer that belongs to it. Each
request that a person sees carries one sentence with its reason. Every class has a stable ``kind``
under which it is written down.

============ ============= ======================================================
request      answer        meaning
============ ============= ======================================================
PlayNote     NotePlayed    have a note sound, and stay on it
TakeReadings ReadingsTaken listen to the note that sounds, once settled
WatchTurn    TurnWatched   have one trimmer turned towards an aim, watched live
Wait         Waited        let time pass until a moment, unless the person has had enough
Tell         Noted         say something that needs no reply
Report       Noted         hand on something found out: a curve, a verdict
Ask          Chosen        have the person choose, or do something and say when it is done
============ ============= ======================================================
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any, ClassVar, TypeVar

from pitchwright.errors import InputError
from pitchwright.procedures.outcomes import Outcome

__all__ = [
    "HAND_AWAY",
    "Answer",
    "Ask",
    "Choice",
    "Chosen",
    "Ended",
    "Heard",
    "NotePlayed",
    "Noted",
    "PlayNote",
    "ReadingsTaken",
    "Report",
    "Request",
    "TakeReadings",
    "Tell",
    "TrackPoint",
    "TurnWatched",
    "Wait",
    "Waited",
    "WatchTurn",
    "expect",
]


@dataclass(frozen=True, slots=True)
class PlayNote:
    """Have a note sound and stay.

    Attributes
    ----------
    note
        MIDI note number.
    cv_v
        Nominal control voltage in volts.
    sentence
        Why, for a person.
    """

    kind: ClassVar[str] = "play note"
    note: float
    cv_v: float
    sentence: str


@dataclass(frozen=True, slots=True)
class NotePlayed:
    """The note sounds.

    Attributes
    ----------
    t_s
        Time on the bench's clock, seconds.
    cv_v
        Control voltage in volts where it was measured, else None.
    """

    kind: ClassVar[str] = "note played"
    t_s: float
    cv_v: float | None = None


@dataclass(frozen=True, slots=True)
class TakeReadings:
    """Listen to the note that sounds, one reading per oscillator.

    Attributes
    ----------
    note, cv_v
        What is playing.
    oscillators
        Names of those to listen to.
    settle_s
        How long to wait at the longest for a settled reading, seconds.
    sentence
        Why, for a person.
    """

    kind: ClassVar[str] = "take readings"
    note: float
    cv_v: float
    oscillators: tuple[str, ...]
    settle_s: float
    sentence: str


@dataclass(frozen=True, slots=True)
class Heard:
    """One reading of one oscillator as it reaches a procedure.

    Attributes
    ----------
    oscillator
        Its name.
    t_s
        When, on the bench's clock, seconds.
    f_hz
        Frequency, None where there is no pitch.
    u_cents
        Standard uncertainty in cents; 0 where there is no pitch.
    doubts
        Reasons not to trust it, each a sentence; a doubted reading is kept but not used.
    """

    kind: ClassVar[str] = "heard"
    oscillator: str
    t_s: float
    f_hz: float | None
    u_cents: float
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ReadingsTaken:
    """One reading per oscillator that was asked for, in that order."""

    kind: ClassVar[str] = "readings taken"
    heard: tuple[Heard, ...]


@dataclass(frozen=True, slots=True)
class WatchTurn:
    """Have one trimmer turned until the reading stands at the aim, and watch it live.

    Attributes
    ----------
    oscillator, trimmer
        Which oscillator, which of its trimmers (the user's own names).
    visit, turn
        Counted from 1; a visit lasts from screwdriver in to screwdriver out.
    note, cv_v
        The note that sounds while it is turned.
    tuned_hz
        What the note would be with no error: cents are counted from here.
    start_cents, aim_cents
        Reading before the turn and reading to stop at.
    window_cents
        Half width of the window about the aim that is good enough.
    low_cents, high_cents
        Readings at which to stop at once, whatever happens.
    most_turns
        No more than this many turns of the screwdriver, None where unknown.
    clockwise
        Which way the tool expects it to go, None where not known yet.
    probe
        Whether this is the short first turn that shows how the trimmer acts.
    sentence
        What to do and why, for a person.
    turns
        About how far that is, in turns of the screwdriver, None where not known.
    settles_to_cents
        Where the reading will stand once the hand has gone, where that is elsewhere; else None.
    caution
        Safety sentence where one is due, else empty.
    """

    kind: ClassVar[str] = "watch turn"
    oscillator: str
    trimmer: str
    visit: int
    turn: int
    note: float
    cv_v: float
    tuned_hz: float
    start_cents: float
    aim_cents: float
    window_cents: float
    low_cents: float
    high_cents: float
    most_turns: float | None
    clockwise: bool | None
    probe: bool
    sentence: str
    caution: str = ""
    turns: float | None = None
    settles_to_cents: float | None = None


@dataclass(frozen=True, slots=True)
class TrackPoint:
    """One live reading while a trimmer is turned: seconds and cents from ``tuned_hz``."""

    t_s: float
    cents: float


class Ended(StrEnum):
    """How a watched turn came to rest."""

    INSIDE = "inside the window"
    OUTSIDE = "settled outside the window"
    LIMIT = "stopped at the limit"
    STILL = "nothing moved"


@dataclass(frozen=True, slots=True)
class TurnWatched:
    """What was seen of one turn.

    Attributes
    ----------
    ended
        How it came to rest.
    after
        Careful reading once settled.
    track
        Live readings in order of time, some ten a second.
    turned
        Turns of the screwdriver, clockwise positive, where known (a person need not count).
    """

    kind: ClassVar[str] = "turn watched"
    ended: Ended
    after: Heard
    track: tuple[TrackPoint, ...]
    turned: float | None = None


@dataclass(frozen=True, slots=True)
class Wait:
    """Let time pass, while the note that sounds goes on.

    Attributes
    ----------
    until_s
        Until when, on the bench's clock, seconds; a moment that has passed is not waited for.
    sentence
        What is waited for, for a person.
    """

    kind: ClassVar[str] = "wait"
    until_s: float
    sentence: str


@dataclass(frozen=True, slots=True)
class Waited:
    """The time has come, or the person has had enough.

    Attributes
    ----------
    t_s
        Time on the bench's clock, seconds.
    enough
        Whether the person ended the watch: nothing more is to be taken.
    temperature_c
        Degrees Celsius beside the instrument where the bench has a thermometer, else None.
    """

    kind: ClassVar[str] = "waited"
    t_s: float
    enough: bool = False
    temperature_c: float | None = None


@dataclass(frozen=True, slots=True)
class Tell:
    """Say something that needs no reply.

    Attributes
    ----------
    finding
        A stable word for what it is about (``trim.Happened`` lists those about turns).
    sentence
        For a person.
    """

    kind: ClassVar[str] = "tell"
    finding: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Report:
    """Hand on something found out; subscribers see ``outcome`` as an event of its own."""

    kind: ClassVar[str] = "report"
    outcome: Outcome


@dataclass(frozen=True, slots=True)
class Noted:
    """A sentence or an outcome was passed on."""

    kind: ClassVar[str] = "noted"


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing that can be chosen: a stable key, and its words."""

    kind: ClassVar[str] = "choice"
    key: str
    words: str


@dataclass(frozen=True, slots=True)
class Ask:
    """Have the person choose one of several.

    Attributes
    ----------
    question
        A stable word for what is asked; :data:`HAND_AWAY` where screwdriver and hand are to go,
        which is done once it is answered.
    sentence
        The question with its reason.
    choices
        In the order shown.
    default
        Key that is taken where nobody is there to choose.
    """

    kind: ClassVar[str] = "ask"
    question: str
    sentence: str
    choices: tuple[Choice, ...]
    default: str


HAND_AWAY = "hand away"
"""The question that is answered once the screwdriver is out and the hand away."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """The key of what was chosen."""

    kind: ClassVar[str] = "chosen"
    key: str


Request = PlayNote | TakeReadings | WatchTurn | Wait | Tell | Report | Ask
Answer = NotePlayed | ReadingsTaken | TurnWatched | Waited | Noted | Chosen

ANSWER_TO: dict[type[Any], type[Any]] = {
    PlayNote: NotePlayed,
    TakeReadings: ReadingsTaken,
    WatchTurn: TurnWatched,
    Wait: Waited,
    Tell: Noted,
    Report: Noted,
    Ask: Chosen,
}
"""Which answer belongs to which request."""

Wanted = TypeVar("Wanted")


def expect(answer: Answer, wanted: type[Wanted]) -> Wanted:
    """Return the answer if it is of the kind that was asked for; InputError otherwise."""
    if isinstance(answer, wanted):
        return answer
    raise InputError(
        f"An answer of another kind arrived: “{getattr(answer, 'kind', answer)}” where"
        f" “{getattr(wanted, 'kind', wanted)}” was asked for",
        do="The events so far are kept; go on from them",
    )
