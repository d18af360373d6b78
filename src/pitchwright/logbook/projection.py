"""What is current, read off the entries.

Every rule gives the same tables in whatever order the entries arrive (of two descriptions the
later one counts, by time and then by identifier), so that entries imported from another bench,
older or newer than what is here, lead to what writing them here would have led to.
"""

from __future__ import annotations

import dataclasses
import json
from functools import cache
from typing import Any

from sqlalchemy import Connection, Table, bindparam, delete, func, select, update
from sqlalchemy.dialects import postgresql, sqlite

from pitchwright.errors import InputError
from pitchwright.logbook.entries import Entry, entry_of
from pitchwright.logbook.facts import (
    EntryWithdrawn,
    Figures,
    InstrumentDescribed,
    SurveyRecorded,
)
from pitchwright.logbook.tables import (
    PROJECTED,
    entry,
    instrument,
    procedure_run,
    survey,
    trimmer,
)
from pitchwright.procedures.events import Closed, Started
from pitchwright.procedures.outcomes import TrimmerLearned
from pitchwright.procedures.plain import to_plain

__all__ = ["apply", "differences", "rebuild"]

_RULED = (
    InstrumentDescribed.kind,
    TrimmerLearned.kind,
    Started.kind,
    Closed.kind,
    SurveyRecorded.kind,
    EntryWithdrawn.kind,
)
"""The kinds that change the projection; all others (readings, requests, sentences) do not."""


def apply(connection: Connection, written: Entry) -> None:
    """Bring the projection up to date with one entry, in the caller's transaction."""
    what = written.what
    if isinstance(what, InstrumentDescribed):
        _describe(connection, written, what)
    elif isinstance(what, TrimmerLearned):
        _learn(connection, written, what)
    elif isinstance(what, Started):
        _begin(connection, written, what)
    elif isinstance(what, Closed):
        _close(connection, _run_of(written))
    elif isinstance(what, SurveyRecorded):
        _survey(connection, written, what)
    elif isinstance(what, EntryWithdrawn):
        _withdraw(connection, written)


def rebuild(connection: Connection) -> int:
    """Empty the projection and make it again from the entries; how many entries were applied."""
    for table in reversed(PROJECTED):
        connection.execute(delete(table))
    return apply_all(connection)


def apply_all(connection: Connection, after_id: int = 0) -> int:
    """Apply every entry behind a row number that changes the projection; how many there were."""
    wanted = (
        select(entry).where(entry.c.kind.in_(_RULED), entry.c.id > after_id).order_by(entry.c.id)
    )
    withdrawn = set(
        connection.scalars(
            select(entry.c.corrects).where(
                entry.c.corrects.is_not(None), entry.c.kind == EntryWithdrawn.kind
            )
        )
    )
    surveys: list[dict[str, Any]] = []
    count = 0
    for row in connection.execute(wanted).all():
        count += 1
        written = entry_of(row)
        if isinstance(written.what, SurveyRecorded):
            gone = written.uid in withdrawn
            surveys.append(_survey_values(written, written.what, withdrawn=gone))
        else:
            apply(connection, written)
    if surveys:
        connection.execute(_put_survey(connection.dialect.name), surveys)
    return count


def differences(connection: Connection) -> tuple[str, ...]:
    """Names of the projected tables that differ from what the entries say; undo what was tried.

    The caller's transaction is used to rebuild and must be rolled back afterwards.
    """
    before = {table.name: _content(connection, table) for table in PROJECTED}
    rebuild(connection)
    return tuple(
        table.name for table in PROJECTED if _content(connection, table) != before[table.name]
    )


def _content(connection: Connection, table: Table) -> list[tuple[Any, ...]]:
    keys = list(table.primary_key.columns)
    return [tuple(row) for row in connection.execute(select(table).order_by(*keys))]


@cache
def _insert(table: Table, dialect: str) -> Any:
    """An insert that can be told what to do where the key is there already."""
    return postgresql.insert(table) if dialect == "postgresql" else sqlite.insert(table)


# Statements are made once: making one takes longer than running it.


@cache
def _put_latest(table: Table, at: str, by: str, dialect: str) -> Any:
    """Put a row, unless the one that is there is later by time ``at`` and then entry ``by``."""
    statement = _insert(table, dialect)
    keys = [column.name for column in table.primary_key.columns]
    newer = (statement.excluded[at] > table.c[at]) | (
        (statement.excluded[at] == table.c[at]) & (statement.excluded[by] > table.c[by])
    )
    others = [column.name for column in table.columns if column.name not in keys]
    return statement.on_conflict_do_update(
        index_elements=keys, set_={name: statement.excluded[name] for name in others}, where=newer
    )


@cache
def _put_run(dialect: str) -> Any:
    """Put a run; resumed runs start again under the same name, and the first start counts."""
    statement = _insert(procedure_run, dialect)
    least = func.min if dialect == "sqlite" else func.least
    return statement.on_conflict_do_update(
        index_elements=["uid"],
        set_={"begun_at_utc": least(procedure_run.c.begun_at_utc, statement.excluded.begun_at_utc)},
    )


@cache
def _put_survey(dialect: str) -> Any:
    """Put a survey; an import may meet what another bench has just written, with the same row."""
    statement = _insert(survey, dialect)
    return statement.on_conflict_do_update(
        index_elements=["uid"], set_={"withdrawn": statement.excluded.withdrawn}
    )


_FIGURES = tuple(field.name for field in dataclasses.fields(Figures))
_WITHDRAWALS = (
    select(func.count())
    .select_from(entry)
    .where(entry.c.corrects == bindparam("uid"), entry.c.kind == EntryWithdrawn.kind)
)
_ENDS = select(func.min(entry.c.at_utc)).where(
    entry.c.run == bindparam("run"), entry.c.kind.in_((Closed.kind, EntryWithdrawn.kind))
)
_END_RUN = (
    update(procedure_run)
    .where(procedure_run.c.uid == bindparam("of_run"))
    .values(closed_at_utc=bindparam("ended"))
)


def _describe(connection: Connection, written: Entry, what: InstrumentDescribed) -> None:
    row = {
        "uid": _about(written),
        "name": _kept(what.name),
        "kind": _kept(what.what),
        "fed_by": _kept(what.fed_by),
        "described_at_utc": written.at_utc,
        "described_by": written.uid,
    }
    connection.execute(
        _put_latest(instrument, "described_at_utc", "described_by", connection.dialect.name), row
    )


def _learn(connection: Connection, written: Entry, what: TrimmerLearned) -> None:
    row = {
        "instrument": _about(written),
        "name": _kept(what.trimmer)[:200],
        "known": json.dumps(to_plain(what.known), ensure_ascii=False, sort_keys=True),
        "learned_at_utc": written.at_utc,
        "learned_by": written.uid,
    }
    connection.execute(
        _put_latest(trimmer, "learned_at_utc", "learned_by", connection.dialect.name), row
    )


def _begin(connection: Connection, written: Entry, what: Started) -> None:
    row = {
        "uid": _run_of(written),
        "procedure": _kept(what.procedure)[:40],
        "instrument": written.instrument,
        "begun_at_utc": written.at_utc,
        "closed_at_utc": _ended(connection, _run_of(written)),
    }
    connection.execute(_put_run(connection.dialect.name), row)


def _close(connection: Connection, run: str) -> None:
    connection.execute(_END_RUN, {"of_run": run, "ended": _ended(connection, run)})


def _ended(connection: Connection, run: str) -> str | None:
    """When a run came to its end or was given up: the first such entry by time."""
    ended: str | None = connection.scalar(_ENDS, {"run": run})
    return ended


def _survey(connection: Connection, written: Entry, what: SurveyRecorded) -> None:
    withdrawn = bool(connection.scalar(_WITHDRAWALS, {"uid": written.uid}))
    connection.execute(
        _put_survey(connection.dialect.name), _survey_values(written, what, withdrawn=withdrawn)
    )


def _survey_values(written: Entry, what: SurveyRecorded, *, withdrawn: bool) -> dict[str, Any]:
    return {
        "uid": written.uid,
        "instrument": _about(written),
        "run": written.run,
        "at_utc": written.at_utc,
        "state": what.state.value,
        **{name: getattr(what.figures, name) for name in _FIGURES},
        "temperature_c": what.conditions.temperature_c,
        "withdrawn": withdrawn,
    }


def _withdraw(connection: Connection, written: Entry) -> None:
    if written.corrects is None:
        raise InputError("A withdrawal must say which entry it withdraws", "entry withdrawn")
    connection.execute(
        update(survey).where(survey.c.uid == written.corrects).values(withdrawn=True)
    )
    if written.run is not None:  # the withdrawal of a beginning gives the run up
        _close(connection, written.run)


def _kept(text: str) -> str:
    """Text as every database keeps it: no null character, no half of a surrogate pair."""
    return text.replace("\x00", "\ufffd").encode("utf-8", "replace").decode()


def _about(written: Entry) -> str:
    if written.instrument is None:
        raise InputError("This must say which instrument it is about", written.what.kind)
    return written.instrument


def _run_of(written: Entry) -> str:
    if written.run is None:
        raise InputError("This must say which run it belongs to", written.what.kind)
    return written.run
