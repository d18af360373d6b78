"""From what the logbook holds of an instrument to its certificate, its label and its history chart.

The surveys are worked out anew from their readings, so that what is printed is what the readings
say, and not a figure that was once copied.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from sqlalchemy import select

from pitchwright.certificate.contents import Contents, SurveyDone, TurnDone, VisitDone
from pitchwright.errors import InputError
from pitchwright.logbook.entries import Entry
from pitchwright.logbook.facts import SurveyRecorded
from pitchwright.logbook.history import (
    SurveyRow,
    described,
    due_of,
    find_instrument,
    history,
    instruments,
    rates,
    time_of,
)
from pitchwright.logbook.store import Logbook
from pitchwright.logbook.tables import procedure_run
from pitchwright.pictures.figures import day
from pitchwright.pictures.history_chart import history_svg
from pitchwright.pictures.palette import Theme
from pitchwright.procedures.circumstances import SurveyState
from pitchwright.procedures.requests import TurnWatched, WatchTurn
from pitchwright.procedures.surveyed import surveyed
from pitchwright.units import cents_between
from pitchwright.upkeep.records import closed_of

__all__ = ["certificate_of", "certificates_of_all", "history_chart"]


def certificate_of(
    logbook: Logbook,
    name: str,
    *,
    dated: date | None = None,
    tolerance_cents: float | None = None,
) -> Contents:
    """What the certificate of one instrument says.

    It shows the newest survey as left with the one as found before it; or, where the instrument was
    surveyed as found later than that, this one alone; or a check, where nothing else is there.

    Parameters
    ----------
    logbook
        Where from.
    name
        The instrument, upper and lower case alike.
    dated
        The day on the certificate; what was measured later is not on it. Today where None.
    tolerance_cents
        Greatest error allowed; what the survey was made for where None.

    Raises
    ------
    InputError
        Where there is no such instrument, or no survey of it up to that day.
    """
    known = find_instrument(logbook, name)
    dated = dated or logbook.now().astimezone().date()
    rows = [row for row in history(logbook, known.uid) if _day(row) <= dated]
    if not rows:
        raise InputError(
            f"{known.name[:60]} has no survey up to {dated.isoformat()}",
            logbook.where,
            "Survey or trim it first, or give a later --date",
        )
    found, left = _pair(rows)
    shown = [row for row in (found, left) if row is not None]
    entries = _recorded(logbook, known.uid, {row.uid for row in shown})
    tolerance = tolerance_cents or shown[-1].tolerance_cents or 1.0
    last = max(row.at_utc for row in shown)
    told = described(logbook, known.uid)
    return Contents(
        name=known.name,
        found=None if found is None else _done(known.name, entries[found.uid], tolerance),
        left=None if left is None else _done(known.name, entries[left.uid], tolerance),
        tolerance_cents=tolerance,
        dated=dated,
        what=known.what,
        fed_by=known.fed_by,
        trimmers=() if told is None else tuple(trimmer.name for trimmer in told.trimmers),
        visits=_visits(logbook, known.uid, found, left),
        invented=any(_body(entries[row.uid]).invented for row in shown),
        later=tuple(time_of(row.at_utc) for row in rows if row.at_utc > last),
    )


def certificates_of_all(
    logbook: Logbook, *, dated: date | None = None, tolerance_cents: float | None = None
) -> tuple[Contents, ...]:
    """The certificates of all instruments that were surveyed up to that day, by name."""
    until = dated or logbook.now().astimezone().date()
    return tuple(
        certificate_of(logbook, known.name, dated=until, tolerance_cents=tolerance_cents)
        for known in instruments(logbook)
        if any(_day(row) <= until for row in history(logbook, known.uid))
    )


def history_chart(
    logbook: Logbook,
    name: str,
    *,
    theme: Theme = "system",
    tolerance_cents: float = 1.0,
    octaves: float = 3.0,
) -> str:
    """The chart of an instrument's years as SVG.

    Parameters
    ----------
    logbook, name
        Where from, and which instrument.
    theme
        Light, dark, or whichever the system that shows it prefers.
    tolerance_cents, octaves
        What the day on which it is due is reckoned with: greatest error allowed, so many octaves
        from middle C.

    Raises
    ------
    InputError
        Where there is no such instrument, or there are not two surveys of it.
    """
    known = find_instrument(logbook, name)
    rows = history(logbook, known.uid)
    if len(rows) == 1:
        on = day(_day(rows[0]))
        raise InputError(
            f"{known.name} was surveyed once, on {on}: its years begin with the second survey",
            do="Survey it again",
        )
    when = due_of(known, rows, tolerance_cents=tolerance_cents, octaves=octaves)
    newest = _recorded(logbook, known.uid, {rows[-1].uid}).values() if rows else ()
    return history_svg(
        known.name,
        rows,
        rates=rates(rows),
        due=when.earliest,
        due_why=when.reason,
        tolerance_cents=tolerance_cents,
        invented=any(_body(entry).invented for entry in newest),
        theme=theme,
    )


def _day(row: SurveyRow) -> date:
    return time_of(row.at_utc).astimezone().date()


def _pair(rows: Sequence[SurveyRow]) -> tuple[SurveyRow | None, SurveyRow | None]:
    """The survey as found and the one as left that belong on one certificate."""
    states = [row.state for row in rows]
    left = _last(states, SurveyState.AS_LEFT)
    found = _last(states, SurveyState.AS_FOUND)
    if left is None and found is None:
        return rows[-1], None
    if left is None or (found is not None and found > left):
        return rows[found or 0], None
    before = _last(states[:left], SurveyState.AS_FOUND)
    previous = _last(states[:left], SurveyState.AS_LEFT)
    if before is None or (previous is not None and previous > before):
        return None, rows[left]
    return rows[before], rows[left]


def _last(states: Sequence[SurveyState], wanted: SurveyState) -> int | None:
    return max((i for i, state in enumerate(states) if state is wanted), default=None)


def _recorded(logbook: Logbook, instrument: str, uids: set[str]) -> dict[str, Entry]:
    """The entries of some surveys, by identifier."""
    found: dict[str, Entry] = {}
    for entry in logbook.entries(
        kinds=(SurveyRecorded.kind,), instrument=instrument, newest_first=True
    ):
        if entry.uid in uids:
            found[entry.uid] = entry
            if len(found) == len(uids):
                break
    return found


def _body(entry: Entry) -> SurveyRecorded:
    assert isinstance(entry.what, SurveyRecorded)
    return entry.what


def _done(name: str, entry: Entry, tolerance_cents: float) -> SurveyDone:
    recorded = _body(entry)
    under = recorded.conditions
    survey = surveyed(closed_of(name, recorded), tolerance_cents)
    return SurveyDone(
        survey=survey,
        at=time_of(entry.at_utc),
        uid=entry.uid,
        bench=entry.bench,
        temperature_c=under.temperature_c,
        minutes_on=under.minutes_on,
        source=under.source,
        route=under.route,
        reference=under.reference,
        remark=""
        if recorded.target is not None
        else "The record does not say what it was measured against: equal temperament at A4 = 440 "
        "Hz is assumed.",
    )


def _visits(
    logbook: Logbook, instrument: str, found: SurveyRow | None, left: SurveyRow | None
) -> tuple[VisitDone, ...]:
    """Every visit on record between the two surveys, in the order made."""
    if left is None:
        return ()
    after = "" if found is None else found.at_utc
    visits: list[VisitDone] = []
    for run in _runs(logbook, instrument, after, left):
        entries = logbook.entries(run=run, kinds=(WatchTurn.kind, TurnWatched.kind))
        turns = _turns(entries, after, left.at_utc)
        for watch, turn in turns:
            same = visits and (visits[-1].trimmer == watch.trimmer) and watch.turn > 1
            if same:
                visits[-1] = VisitDone(visits[-1].visit, watch.trimmer, (*visits[-1].turns, turn))
            else:
                visits.append(VisitDone(len(visits) + 1, watch.trimmer, (turn,)))
    return tuple(visits)


def _runs(logbook: Logbook, instrument: str, after: str, left: SurveyRow) -> list[str]:
    """Runs of the instrument that went on between two surveys, in order of time."""
    wanted = (
        select(procedure_run.c.uid)
        .where(
            (procedure_run.c.instrument == instrument) | (procedure_run.c.uid == left.run),
            procedure_run.c.begun_at_utc <= left.at_utc,
            procedure_run.c.closed_at_utc.is_(None) | (procedure_run.c.closed_at_utc >= after),
        )
        .order_by(procedure_run.c.begun_at_utc)
    )
    with logbook.reading() as connection:
        runs = [row.uid for row in connection.execute(wanted)]
    if not after:  # nothing says since when: the run that left belongs to is all that is sure
        return [run for run in runs if run == left.run]
    return runs


def _turns(
    entries: Iterable[Entry], after: str, until: str
) -> Iterator[tuple[WatchTurn, TurnDone]]:
    watch: WatchTurn | None = None
    for entry in entries:
        what = entry.what
        if isinstance(what, WatchTurn):
            watch = what  # asked again after an interruption, the later one counts
        elif isinstance(what, TurnWatched) and watch is not None:
            if after <= entry.at_utc <= until:
                yield watch, _turn(watch, what)
            watch = None


def _turn(watch: WatchTurn, seen: TurnWatched) -> TurnDone:
    f_hz = seen.after.f_hz
    return TurnDone(
        note=watch.note,
        before_cents=watch.start_cents,
        aim_cents=watch.aim_cents,
        after_cents=None if f_hz is None else cents_between(f_hz, watch.tuned_hz),
        turns=seen.turned,
        probe=watch.probe,
        ended=seen.ended.value,
    )
