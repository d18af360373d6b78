"""What every screen shows: a frozen picture that follows from the events, the same for all.

:func:`after` takes one event into the picture. Nothing here reads a clock, and nothing heavy is
imported: the first page is served before numerics are loaded, so events are told by their ``kind``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pitchwright.procedures.events import Event
    from pitchwright.procedures.outcomes import (
        CurveKnown,
        EnsembleSeen,
        ForecastMade,
        PairsHeard,
        SurveyClosed,
        TrimmerLearned,
    )
    from pitchwright.procedures.requests import Ask, Heard, TurnWatched, WatchTurn
    from pitchwright.trim.verdict import Verdict
    from pitchwright.web.drop import Dropped
    from pitchwright.web.modelled import Line

__all__ = [
    "MOST_SAID",
    "Connected",
    "Hidden",
    "Listed",
    "Phase",
    "Read",
    "Said",
    "Scene",
    "Screen",
    "after",
]

MOST_SAID = 60


class Phase(StrEnum):
    """What goes on."""

    OPENING = "opening"
    """The bench is still being set up."""
    IDLE = "idle"
    PLAYING = "playing"
    """A note is asked for."""
    LISTENING = "listening"
    WAITING = "waiting"
    """Time is to pass, as in a warm-up."""
    TURNING = "turning"
    """A trimmer is to be turned; live readings come in."""
    ASKING = "asking"
    """A question waits for its answer."""
    ENDED = "ended"
    STOPPED = "stopped"
    """Interrupted; it can go on."""

    @property
    def busy(self) -> bool:
        """Whether a procedure is under way."""
        return self not in (Phase.OPENING, Phase.IDLE, Phase.ENDED, Phase.STOPPED)


class Hidden(StrEnum):
    """From which screens a teacher hides the numbers."""

    NOBODY = "nobody"
    HERE = "here"
    """The one that asked for it."""
    OTHERS = "others"
    """All but the one that asked for it."""


@dataclass(frozen=True, slots=True)
class Listed:
    """An oscillator of the bench and the names of its trimmers, in order."""

    name: str
    trimmers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Connected:
    """What is connected.

    Attributes
    ----------
    kind
        ``practice`` or ``live``.
    sentence
        What it is, for a person; that data are invented is said here.
    oscillators, sources
        In the order shown.
    turnable
        Whether trimmers are turned on the page (the practice rig's sliders).
    drives_outputs
        Whether it sends sound or voltage to outputs of this machine, which must be allowed first.
    """

    kind: str
    sentence: str
    oscillators: tuple[Listed, ...]
    sources: tuple[str, ...]
    turnable: bool
    drives_outputs: bool


@dataclass(frozen=True, slots=True)
class Said:
    """A sentence that was said, with a stable word for what it is about."""

    number: int
    finding: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Read:
    """One careful reading and the note that sounded."""

    note: float
    heard: Heard


@dataclass(frozen=True, slots=True)
class Screen:
    """A screen that looks on: a stable name of the device, and words for people."""

    name: str
    words: str


@dataclass(frozen=True, slots=True)
class Scene:
    """All that is shown, but for live readings (`Feed` has those).

    Attributes
    ----------
    version
        Grows with every change.
    phase
        What goes on.
    connected
        The bench; None while it is being set up.
    procedure, oscillators, settings
        What runs or ran last: its name, whom it is about, and its settings as plain values.
    doing
        The one sentence for now.
    note
        The note that sounds or is asked for.
    turning
        The turn under way, or None.
    sound
        A word for what is wrong with the sound of a turn under way; empty where nothing is.
    question
        What waits for an answer, or None.
    found, now
        The curve as found and as it stands, or None.
    foreseen
        Cents at the notes of ``now`` once the planned moves are made, empty where not known.
    model, model_found
        The fitted model's lines through both; empty where not known.
    readings
        Of this procedure, in the order taken.
    surveyed
        Closed surveys, by oscillator.
    curves
        The newest survey of every oscillator that was not turned since, whatever ran since.
    before
        Where this is the survey as left after a guided trim: the surveys as found.
    learned
        How trimmers act, the latest of each.
    forecasts
        Where each oscillator's warm-up stands, the latest of each.
    pairs
        Every pair of oscillators, note by note, in an ensemble check.
    ensemble
        The end of an ensemble check, or None.
    visits
        How often a screwdriver went in.
    said
        The latest sentences.
    verdict
        The end of a guided trim, or None.
    stopped
        What was stopped and can go on, for a person; empty where nothing was.
    written_in
        Where it is written down, for a person; empty where it is not.
    warning
        A sentence about the logbook, where it cannot be used; else empty.
    dropped
        Recordings dropped onto the page, the latest last.
    fault
        A sentence where something went wrong, else empty.
    screens, leader
        Who looks on, and the name of the screen that leads (empty while none does).
    output_allowed
        Whether the person at the machine has allowed sound and voltage on its outputs.
    hidden, hidden_by
        Where the numbers are hidden, and the screen that asked for it.
    """

    version: int = 0
    phase: Phase = Phase.OPENING
    connected: Connected | None = None
    procedure: str = ""
    oscillators: tuple[str, ...] = ()
    settings: dict[str, Any] = field(default_factory=dict)
    doing: str = ""
    note: float | None = None
    turning: WatchTurn | None = None
    sound: str = ""
    question: Ask | None = None
    found: CurveKnown | None = None
    now: CurveKnown | None = None
    foreseen: tuple[float, ...] = ()
    model: Line = ()
    model_found: Line = ()
    readings: tuple[Read, ...] = ()
    surveyed: tuple[SurveyClosed, ...] = ()
    curves: tuple[SurveyClosed, ...] = ()
    before: tuple[SurveyClosed, ...] = ()
    learned: tuple[TrimmerLearned, ...] = ()
    forecasts: tuple[ForecastMade, ...] = ()
    pairs: tuple[PairsHeard, ...] = ()
    ensemble: EnsembleSeen | None = None
    visits: int = 0
    said: tuple[Said, ...] = ()
    verdict: Verdict | None = None
    stopped: str = ""
    written_in: str = ""
    warning: str = ""
    dropped: tuple[Dropped, ...] = ()
    fault: str = ""
    screens: tuple[Screen, ...] = ()
    leader: str = ""
    output_allowed: bool = False
    hidden: Hidden = Hidden.NOBODY
    hidden_by: str = ""

    def hides_from(self, screen: str) -> bool:
        """Whether a screen is to show no numbers."""
        if self.hidden is Hidden.NOBODY:
            return False
        return (screen == self.hidden_by) is (self.hidden is Hidden.HERE)


def after(scene: Scene, event: Event) -> Scene:
    """Take one event into the picture; a live reading changes nothing here."""
    take = _TAKEN.get(event.kind)
    return scene if take is None else replace(take(scene, event), version=scene.version + 1)


def _started(scene: Scene, event: Event) -> Scene:
    what: Any = event.what
    settings = what.settings if isinstance(what.settings, dict) else {}
    named = settings.get("oscillators") or [settings.get("oscillator", "")]
    if what.resumed:
        fresh = scene
    else:
        fresh = _cleared(scene)
        names = {one.oscillator for one in scene.surveyed}
        if what.procedure == "survey" and scene.procedure == "guided trim" and names & set(named):
            fresh = replace(fresh, before=scene.surveyed, found=scene.found, verdict=scene.verdict)
    return replace(
        fresh,
        phase=Phase.LISTENING,
        procedure=what.procedure,
        oscillators=tuple(name for name in named if name),
        settings=settings,
        stopped="",
        fault="",
    )


def _cleared(scene: Scene) -> Scene:
    """Nothing of the last procedure left; who looks on and what is connected stay."""
    return Scene(
        version=scene.version,
        connected=scene.connected,
        screens=scene.screens,
        leader=scene.leader,
        output_allowed=scene.output_allowed,
        written_in=scene.written_in,
        curves=scene.curves,
        warning=scene.warning,
        dropped=scene.dropped,
        hidden=scene.hidden,
        hidden_by=scene.hidden_by,
    )


def _asked_to_play(scene: Scene, event: Event) -> Scene:
    what: Any = event.what
    return replace(
        scene, phase=Phase.PLAYING, note=what.note, doing=what.sentence, turning=None, question=None
    )


def _asked_to_listen(scene: Scene, event: Event) -> Scene:
    what: Any = event.what
    return replace(scene, phase=Phase.LISTENING, note=what.note, doing=what.sentence)


def _heard(scene: Scene, event: Event) -> Scene:
    what: Any = event.what
    note = scene.note if scene.note is not None else 0.0
    taken = tuple(Read(note, heard) for heard in what.heard)
    return replace(scene, readings=(*scene.readings, *taken))


def _asked_to_turn(scene: Scene, event: Event) -> Scene:
    what: WatchTurn = event.what  # type: ignore[assignment]
    return replace(
        scene,
        phase=Phase.TURNING,
        turning=what,
        note=what.note,
        doing=what.sentence,
        visits=max(scene.visits, what.visit),
    )


def _turned(scene: Scene, event: Event) -> Scene:
    what: TurnWatched = event.what  # type: ignore[assignment]
    note = scene.note if scene.note is not None else 0.0
    # What was surveyed of an oscillator before it was turned is its curve no longer.
    turned = scene.turning.oscillator if scene.turning is not None else ""
    return replace(
        scene,
        phase=Phase.LISTENING,
        turning=None,
        curves=tuple(one for one in scene.curves if one.oscillator != turned),
        readings=(*scene.readings, Read(note, what.after)),
    )


def _told(scene: Scene, event: Event) -> Scene:
    what: Any = event.what
    said = (*scene.said, Said(event.number, what.finding, what.sentence))
    return replace(scene, said=said[-MOST_SAID:])


def _asked(scene: Scene, event: Event) -> Scene:
    what: Any = event.what
    return replace(scene, phase=Phase.ASKING, question=what, doing=what.sentence)


def _chosen(scene: Scene, event: Event) -> Scene:
    del event
    return replace(scene, phase=Phase.LISTENING, question=None)


def _curve(scene: Scene, event: Event) -> Scene:
    what: Any = event.what
    return replace(scene, found=scene.found or what, now=what)


def _survey_closed(scene: Scene, event: Event) -> Scene:
    what: Any = event.what

    def with_it(known: tuple[SurveyClosed, ...]) -> tuple[SurveyClosed, ...]:
        return (*(one for one in known if one.oscillator != what.oscillator), what)

    return replace(scene, surveyed=with_it(scene.surveyed), curves=with_it(scene.curves))


def _learned(scene: Scene, event: Event) -> Scene:
    what: Any = event.what
    others = tuple(one for one in scene.learned if one.trimmer != what.trimmer)
    return replace(scene, learned=(*others, what))


def _forecast(scene: Scene, event: Event) -> Scene:
    what: Any = event.what
    others = tuple(one for one in scene.forecasts if one.oscillator != what.oscillator)
    return replace(scene, forecasts=(*others, what))


def _pairs(scene: Scene, event: Event) -> Scene:
    what: Any = event.what
    return replace(scene, pairs=(*scene.pairs, what))


def _ensemble(scene: Scene, event: Event) -> Scene:
    what: Any = event.what
    return replace(scene, ensemble=what)


def _waiting(scene: Scene, event: Event) -> Scene:
    what: Any = event.what
    return replace(scene, phase=Phase.WAITING, doing=what.sentence)


def _verdict(scene: Scene, event: Event) -> Scene:
    what: Any = event.what
    return replace(scene, verdict=what.verdict)


def _interrupted(scene: Scene, event: Event) -> Scene:
    what: Any = event.what
    return replace(
        scene, phase=Phase.STOPPED, turning=None, question=None, doing=what.sentence, note=None
    )


def _closed(scene: Scene, event: Event) -> Scene:
    del event
    return replace(scene, phase=Phase.ENDED, turning=None, question=None, doing="", note=None)


_TAKEN: dict[str, Callable[[Scene, Event], Scene]] = {
    "started": _started,
    "play note": _asked_to_play,
    "take readings": _asked_to_listen,
    "readings taken": _heard,
    "watch turn": _asked_to_turn,
    "turn watched": _turned,
    "tell": _told,
    "ask": _asked,
    "chosen": _chosen,
    "curve known": _curve,
    "survey closed": _survey_closed,
    "trimmer learned": _learned,
    "verdict given": _verdict,
    "forecast made": _forecast,
    "pairs heard": _pairs,
    "ensemble seen": _ensemble,
    "wait": _waiting,
    "interrupted": _interrupted,
    "closed": _closed,
}
