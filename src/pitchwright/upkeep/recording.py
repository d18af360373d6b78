"""Write down whatever is measured, without ever standing in its way.

A recorder opens the logbook and hands out subscribers of the event stream. Where the logbook cannot
be opened or written, one sentence says so, and everything from there on goes to a file of its own
that ``pitchwright log import`` takes in later: the measuring goes on, and nothing is lost.
"""

from __future__ import annotations

import socket
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Final, Unpack

from pitchwright.errors import InputError
from pitchwright.logbook.entries import About, Body, Entry
from pitchwright.logbook.facts import InstrumentDescribed, SurveyRecorded, TrimmerDescribed
from pitchwright.logbook.history import described, identifier_of
from pitchwright.logbook.store import Logbook, instrument_uid, new_entry, new_uid, practice_url
from pitchwright.procedures.events import Event, Turning
from pitchwright.procedures.outcomes import SurveyClosed
from pitchwright.trim.trimmer import Trimmer
from pitchwright.upkeep.aside import Aside
from pitchwright.upkeep.records import recorded_of
from pitchwright.writing import free_path

__all__ = ["NOWHERE", "Recorder", "RunRecord"]

NOWHERE: Final = "none"
"""Given instead of a logbook: nothing is written down."""

_LONG_AGO = datetime(1970, 1, 1, tzinfo=UTC)


class Recorder:
    """An open logbook to be written into, or the file that stands in for it; a context manager.

    Parameters
    ----------
    url
        Of the logbook; the user's own where empty; `NOWHERE` for none.
    practice
        Whether the instrument is of the practice rig: then a logbook beside the real one is used.
    warn
        Is given a sentence where the logbook cannot be used.
    aside
        Folder for the file that stands in; the working directory unless given.
    """

    def __init__(
        self,
        url: str = "",
        *,
        practice: bool = False,
        warn: Callable[[str], None] = lambda _: None,
        aside: Path | None = None,
    ) -> None:
        self.practice = practice
        self.logbook: Logbook | None = None
        self.silent = url.casefold() == NOWHERE
        self._warn = warn
        self._folder = aside or Path()
        self._aside: Aside | None = None
        self._known: dict[str, str] = {}
        if self.silent:
            return
        try:
            self.logbook = Logbook(practice_url(url) if practice else url, warn=warn)
        except InputError as refused:
            self._turn_aside(refused)

    @property
    def where(self) -> str:
        """Where it is written down, for a person; empty where it is not."""
        if self._aside is not None:
            return str(self._aside.path)
        return "" if self.logbook is None else self.logbook.where

    @property
    def turned_aside(self) -> bool:
        """Whether something went, or will go, to the file that stands in for the logbook."""
        return self._aside is not None

    def __enter__(self) -> Recorder:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the logbook; what was written is safe without this."""
        if self.logbook is not None:
            self.logbook.close()

    def write(self, what: Body, **about: Unpack[About]) -> Entry:
        """Write one thing down, as `Logbook.append` does; it is never refused."""
        if self.logbook is not None and self._aside is None:
            try:
                return self.logbook.append(what, **about)
            except InputError as refused:
                self._turn_aside(refused)
        bench = socket.gethostname() if self.logbook is None else self.logbook.bench
        written = new_entry(what, bench, datetime.now(UTC), about)
        if self._aside is not None:
            try:
                self._aside.add(written)
            except OSError as fault:
                self._warn(
                    f"{self._aside.path}: This cannot be written either ({fault.strerror}): from "
                    "here on nothing is written down."
                )
                self._aside, self.logbook, self.silent = None, None, True
        return written

    def instrument(
        self,
        name: str,
        *,
        what: str = "",
        trimmers: Sequence[Trimmer] = (),
        fed_by: str = "",
    ) -> str:
        """The identifier of an instrument, described in the logbook where that is new or changed.

        What is left empty stays as it was described before.
        """
        uid = self._known.get(name.casefold())
        if uid is not None and not (what or trimmers or fed_by):
            return uid
        known: InstrumentDescribed | None = None
        if self.logbook is not None and self._aside is None:
            try:
                uid = uid or identifier_of(self.logbook, name)
                known = described(self.logbook, uid)
            except InputError as refused:
                self._turn_aside(refused)
        first = uid is None or name.casefold() not in self._known
        uid = uid or instrument_uid(name)
        self._known[name.casefold()] = uid
        before = known or InstrumentDescribed(name)
        now = replace(
            before,
            what=what or before.what,
            trimmers=_described(trimmers) or before.trimmers,
            fed_by=fed_by or before.fed_by,
        )
        if self._aside is not None:
            # What the logbook says of the instrument cannot be seen from here, so whatever it does
            # say is to count more than this.
            if first:
                self.write(now, instrument=uid, at=_LONG_AGO)
        elif known != now:
            self.write(now, instrument=uid)
        return uid

    def survey(
        self,
        closed: SurveyClosed,
        *,
        instrument: str = "",
        at: datetime | None = None,
    ) -> None:
        """Write a survey down, with all its readings; the very same one is not written twice.

        Parameters
        ----------
        closed
            The readings and their circumstances.
        instrument
            Name of the instrument; the survey's own where empty.
        at
            When it was made; now where None.
        """
        if self.silent:
            return
        recorded = recorded_of(closed, invented=self.practice)
        about = self.instrument(instrument or closed.oscillator)
        if not self._newest_is(about, recorded):
            self.write(recorded, instrument=about, at=at)

    def follow(
        self,
        oscillators: Sequence[str],
        *,
        run: str = "",
        of_run: str = "",
    ) -> RunRecord:
        """Return a subscriber that writes a run of a procedure down as it happens.

        Parameters
        ----------
        oscillators
            The instruments it is about.
        run
            The run it goes on with; a new one where empty.
        of_run
            The run that its surveys belong to, where that is another: the survey as left belongs
            to the guided trim before it.
        """
        return RunRecord(self, oscillators, run or new_uid(), of_run)

    def _newest_is(self, about: str, recorded: SurveyRecorded) -> bool:
        """Whether the newest survey of an instrument is this very one: a recording heard again."""
        if self.logbook is None or self._aside is not None:
            return False
        kinds = (SurveyRecorded.kind,)
        try:
            for entry in self.logbook.entries(
                kinds=kinds, instrument=about, newest_first=True, limit=1
            ):
                return entry.what == recorded
        except InputError as refused:
            self._turn_aside(refused)
        return False

    def _turn_aside(self, refused: InputError) -> None:
        stamp = datetime.now().astimezone().strftime("%Y-%m-%d-%H%M%S")
        path = free_path(self._folder / f"logbook-aside-{stamp}.jsonl")
        self._aside = Aside(path)
        self._warn(
            f"{refused.sentence} What is measured now is kept in {path}; later, take it in with: "
            f"pitchwright log import {path}"
        )


class RunRecord:
    """Writes down the events of one run; live readings are not kept but within their answer.

    Attributes
    ----------
    run
        The run's identifier.
    """

    def __init__(
        self,
        recorder: Recorder,
        oscillators: Sequence[str],
        run: str,
        of_run: str,
    ) -> None:
        self.run = run
        self._recorder = recorder
        self._of_run = of_run or run
        self._only = oscillators[0] if len(oscillators) == 1 else ""

    def __call__(self, event: Event) -> None:
        """Write one event down."""
        what = event.what
        if self._recorder.silent or isinstance(what, Turning):
            return
        name = str(getattr(what, "oscillator", "")) or self._only
        about = self._recorder.instrument(name) if name else None
        at = datetime.fromisoformat(event.at)
        self._recorder.write(what, run=self.run, instrument=about, at=at)
        if isinstance(what, SurveyClosed):
            self._recorder.write(
                recorded_of(what, invented=self._recorder.practice),
                run=self._of_run,
                instrument=about,
                at=at,
            )


def _described(trimmers: Sequence[Trimmer]) -> tuple[TrimmerDescribed, ...]:
    return tuple(TrimmerDescribed(one.name, str(one.trimmer_kind)) for one in trimmers)
