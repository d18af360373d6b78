"""What is worked out at the desk and handed on all the same: routes, planned detunes, corrections.

Nothing is asked of bench or person here, so these are no generators: a result becomes an outcome,
and `pitchwright.bench.runner.announce` hands it to the subscribers of the event stream.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from pitchwright.detune import DetunePlan, Distance
from pitchwright.route import Change, Delivery, RouteReport

__all__ = ["CorrectionsMade", "DetunePlanned", "NoteCorrected", "RouteSolved", "route_solved"]


@dataclass(frozen=True, slots=True)
class RouteSolved:
    """What a patch does to every oscillator.

    Attributes
    ----------
    route
        What the route is called; may be empty.
    deliveries
        What each oscillator gets, note by note.
    pulled, added
        What one cable less, and one more, does.
    instead
        What to patch instead, in words, best first; empty where nothing needs it.
    sentences
        What to know, most important first.
    """

    kind: ClassVar[str] = "route solved"
    route: str
    deliveries: tuple[Delivery, ...]
    pulled: tuple[Change, ...]
    added: tuple[Change, ...]
    instead: tuple[str, ...]
    sentences: tuple[str, ...]


def route_solved(name: str, found: RouteReport) -> RouteSolved:
    """A route as it is handed on and written down."""
    return RouteSolved(
        route=name,
        deliveries=found.deliveries,
        pulled=found.pulled,
        added=found.added,
        instead=tuple(proposal.sentence for proposal in found.instead),
        sentences=found.sentences,
    )


@dataclass(frozen=True, slots=True)
class DetunePlanned:
    """Target curves that beat as wanted, and how far today is from them.

    Attributes
    ----------
    plan
        The plan; its first voice leads.
    today
        Each measured pair against the plan; empty where nothing was measured.
    """

    kind: ClassVar[str] = "detune planned"
    plan: DetunePlan
    today: tuple[Distance, ...] = ()


@dataclass(frozen=True, slots=True)
class NoteCorrected:
    """What happens to one note of a digital source.

    Attributes
    ----------
    note
        MIDI note number.
    error_cents
        Its error today, as measured or as its neighbours have it.
    correction_cents
        What is added at the source; 0 where the note is left alone.
    predicted_cents, u_predicted_cents
        What that leaves, and its standard uncertainty in use.
    """

    note: int
    error_cents: float
    correction_cents: float
    predicted_cents: float
    u_predicted_cents: float


@dataclass(frozen=True, slots=True)
class CorrectionsMade:
    """Per-note corrections of one oscillator, and what they are worth.

    Attributes
    ----------
    oscillator
        Its name.
    notes
        From the lowest note that was played to the highest.
    wander_cents
        How far it wanders between visits to a note; None where that is not known.
    step_cents
        The smallest step the source can make.
    worst_before_cents, worst_after_cents
        Greatest error at the notes played, today and predicted.
    u_after_cents
        Standard uncertainty of a corrected note in use.
    sent_to
        The MIDI port they were sent to; empty where they were not sent.
    sentences
        The same in words.
    """

    kind: ClassVar[str] = "corrections made"
    oscillator: str
    notes: tuple[NoteCorrected, ...]
    wander_cents: float | None
    step_cents: float
    worst_before_cents: float
    worst_after_cents: float
    u_after_cents: float
    sent_to: str
    sentences: tuple[str, ...]
