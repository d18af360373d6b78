"""Two surveys of one instrument from the logbook, over each other."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from pitchwright.errors import InputError
from pitchwright.logbook.entries import Entry
from pitchwright.logbook.facts import SurveyRecorded
from pitchwright.logbook.history import SurveyRow, find_instrument, history, time_of
from pitchwright.logbook.store import Logbook
from pitchwright.pictures.difference_chart import difference_sentence, difference_svg
from pitchwright.pictures.figures import day
from pitchwright.pictures.shown import moved, shown
from pitchwright.procedures.circumstances import Conditions
from pitchwright.procedures.surveyed import surveyed
from pitchwright.tracking.change import change_between
from pitchwright.upkeep.records import closed_of

__all__ = ["Compared", "compare"]


@dataclass(frozen=True, slots=True)
class Compared:
    """The drawing, what it says, and what speaks against the comparison (may be empty)."""

    svg: str
    sentence: str
    unlike: str


def compare(logbook: Logbook, name: str, *, tolerance_cents: float = 1.0) -> Compared:
    """Compare the newest survey of an instrument with the one before it.

    Both are held against the newest one's target.

    Raises
    ------
    InputError
        Where there is no such instrument, there are not two surveys of it, or no note in common.
    """
    known = find_instrument(logbook, name)
    rows = history(logbook, known.uid)
    if len(rows) < 2:
        raise InputError(
            f"{known.name} has {'one survey' if rows else 'no survey'} in the logbook",
            do="Survey it again, then compare",
        )
    then, now = rows[-2:]
    entries = {
        entry.uid: entry
        for entry in logbook.entries(kinds=(SurveyRecorded.kind,), instrument=known.uid)
        if entry.uid in (then.uid, now.uid)
    }
    before, after = _body(entries[then.uid]), _body(entries[now.uid])
    closed = [closed_of(known.name, replace(one, target=after.target)) for one in (before, after)]
    surveys = [surveyed(one, tolerance_cents) for one in closed]
    curves = [shown(one) for one in surveys]
    clocks = math.hypot(*(one.u_common_cents for one in surveys))
    old, new = (one.curve.entries for one in surveys)
    changed = change_between(old, new, clocks)
    svg = difference_svg(
        *curves,
        then_words=_words(then, now),
        now_words=_words(now, then),
        invented=before.invented or after.invented,
    )
    sentence = difference_sentence(moved(*curves))
    if changed is not None:
        sentence = f"{sentence} {changed.sentence}"
    return Compared(svg, sentence, _unlike(before.conditions, after.conditions))


def _body(entry: Entry) -> SurveyRecorded:
    assert isinstance(entry.what, SurveyRecorded)
    return entry.what


def _words(row: SurveyRow, other: SurveyRow) -> str:
    """What tells a survey from the other: state where that does, else day, else time."""
    if row.state != other.state:
        return row.state.value
    on = time_of(row.at_utc).astimezone()
    if on.date() != time_of(other.at_utc).astimezone().date():
        return day(on.date())
    apart_s = abs((on - time_of(other.at_utc)).total_seconds())
    return f"{on:%H:%M}" if apart_s >= 60.0 else f"{on:%H:%M:%S}"


def _unlike(then: Conditions, now: Conditions) -> str:
    for what, before, after in (
        ("fed by", then.source, now.source),
        ("on the way", then.route, now.route),
    ):
        if before != after:
            return (
                f"It was {what} {before or 'something that was not noted'} then and "
                f"{after or 'something that was not noted'} now: what moved may be that and not "
                "the oscillator."
            )
    return ""
