"""Take up what was interrupted: which runs there are, and their events as the runner wants them."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Generic, TypeVar

from pitchwright.errors import InputError
from pitchwright.logbook.entries import Entry
from pitchwright.logbook.facts import EntryWithdrawn, Fact
from pitchwright.logbook.history import (
    identifier_of,
    instrument_names,
    known_trimmers,
    time_of,
    unfinished,
)
from pitchwright.logbook.store import Logbook
from pitchwright.procedures.events import Event, Started
from pitchwright.procedures.plain import from_plain
from pitchwright.procedures.requests import NotePlayed, ReadingsTaken, TurnWatched, Waited
from pitchwright.procedures.settings import TrimSettings
from pitchwright.procedures.survey import SurveySettings
from pitchwright.trim.trimmer import Known, Trimmer

__all__ = [
    "Stopped",
    "events_of",
    "give_up",
    "stopped_surveys",
    "stopped_trims",
    "trimmers_as_known",
]

TOO_OLD = timedelta(hours=12)
"""After a night the instrument is cold and may have been touched: it is surveyed afresh."""


Settings = TypeVar("Settings", TrimSettings, SurveySettings)


@dataclass(frozen=True, slots=True)
class Stopped(Generic[Settings]):
    """A run of a procedure that was stopped before its end.

    Attributes
    ----------
    run
        The run to go on with.
    oscillator
        Which; empty where it is about several.
    begun_at_utc
        When it began.
    settings
        What it was asked to do.
    events
        What happened so far.
    """

    run: str
    oscillator: str
    begun_at_utc: str
    settings: Settings
    events: tuple[Event, ...]


def stopped_trims(logbook: Logbook, oscillator: str = "") -> tuple[Stopped[TrimSettings], ...]:
    """The guided trims that can be gone on with, the newest first.

    Left out are those whose last event is more than twelve hours old, those that were begun by
    another version with other settings, and those of which the beginning is written down elsewhere.

    Parameters
    ----------
    logbook
        Where they are written down.
    oscillator
        Only those of this one; of all where empty.
    """
    return tuple(
        one
        for one in _stopped(logbook, "guided trim", TrimSettings)
        if not oscillator or one.oscillator.casefold() == oscillator.casefold()
    )


def stopped_surveys(
    logbook: Logbook, oscillators: Sequence[str]
) -> tuple[Stopped[SurveySettings], ...]:
    """The surveys of just these oscillators that can be gone on with, as `stopped_trims`."""
    return tuple(
        one
        for one in _stopped(logbook, "survey", SurveySettings)
        if set(one.settings.oscillators) == set(oscillators)
    )


def _stopped(logbook: Logbook, procedure: str, kind: type[Settings]) -> Iterator[Stopped[Settings]]:
    names = instrument_names(logbook)
    for run in unfinished(logbook):
        if run.procedure != procedure:
            continue
        entries = tuple(logbook.entries(run=run.uid))
        newest = max(entry.at_utc for entry in entries)
        begun = next((e.what for e in entries if isinstance(e.what, Started)), None)
        if begun is None or begun.resumed or logbook.now() - time_of(newest) > TOO_OLD:
            continue
        try:
            settings: Settings = from_plain(begun.settings, kind, "settings")
        except InputError:
            continue
        name = names.get(run.instrument or "", "")
        yield Stopped(run.uid, name, run.begun_at_utc, settings, events_of(entries))


def events_of(entries: Iterable[Entry]) -> tuple[Event, ...]:
    """The events of one run, as the runner takes them; facts among them are left out.

    The bench's clock is read off the answers, which say when they were given.
    """
    events: list[Event] = []
    t_s = 0.0
    for entry in entries:
        what = entry.what
        if isinstance(what, Fact):
            continue
        if isinstance(what, NotePlayed | Waited):
            t_s = what.t_s
        elif isinstance(what, ReadingsTaken) and what.heard:
            t_s = max(one.t_s for one in what.heard)
        elif isinstance(what, TurnWatched):
            t_s = what.after.t_s
        events.append(Event(len(events) + 1, t_s, entry.at_utc, what))
    return tuple(events)


def give_up(logbook: Logbook, run: str, reason: str) -> None:
    """Have a stopped run offered no longer; what it measured stays."""
    for entry in logbook.entries(run=run, kinds=(Started.kind,), limit=1):
        logbook.append(
            EntryWithdrawn(reason), run=run, instrument=entry.instrument, corrects=entry.uid
        )


def trimmers_as_known(
    logbook: Logbook, oscillator: str, trimmers: Sequence[Trimmer]
) -> tuple[Trimmer, ...]:
    """The trimmers of an oscillator with what was learned about each, so that no probe is needed.

    A trimmer that brings its own knowledge keeps it.
    """
    learned = known_trimmers(logbook, identifier_of(logbook, oscillator))
    known: list[Trimmer] = []
    for trimmer in trimmers:
        text = learned.get(trimmer.name[:200])
        if text is None or trimmer.known is not None:
            known.append(trimmer)
            continue
        known.append(replace(trimmer, known=from_plain(json.loads(text), Known, trimmer.name)))
    return tuple(known)
