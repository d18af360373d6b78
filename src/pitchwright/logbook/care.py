"""Look after the logbook: back it up while it is in use, check it, make the projection again."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from sqlalchemy import Connection, func, select, text

from pitchwright.errors import InputError
from pitchwright.logbook import projection
from pitchwright.logbook.entries import REFUSALS, check_body, judges
from pitchwright.logbook.faults import told
from pitchwright.logbook.lines import is_time
from pitchwright.logbook.store import Logbook
from pitchwright.logbook.tables import entry, procedure_run
from pitchwright.writing import whole_file

__all__ = ["back_up", "check", "rebuild"]


def back_up(logbook: Logbook, path: Path) -> None:
    """Copy a SQLite logbook to ``path`` while it is in use (SQLite's online backup), whole or not.

    Raises
    ------
    InputError
        For a server's logbook (its own tools do it better), or where ``path`` cannot be written.
    """
    if logbook.engine.dialect.name != "sqlite":
        raise InputError(
            "A logbook on a PostgreSQL server is backed up with the server's own tools",
            logbook.where,
            "Use pg_dump, or pitchwright log export",
        )
    with whole_file(path) as aside, told(logbook.where):
        source, target = sqlite3.connect(logbook.where), sqlite3.connect(aside)
        try:
            source.backup(target)
        except sqlite3.Error as fault:
            raise InputError(f"The backup failed: {fault}", str(path), "Try again") from fault
        finally:
            target.close()
            source.close()


def check(logbook: Logbook) -> tuple[str, ...]:
    """What is wrong with the logbook, a sentence each; empty where nothing is.

    Looked at: the database's own integrity, entries of a time that does not exist, of unknown
    kind or with a body that is not of their kind, corrections of entries that are not there,
    events whose run never began, and whether the projection is what the entries say.
    """
    found: list[str] = []
    with logbook.reading() as connection:
        found += _integrity(connection)
        found += _bodies(connection)
        found += _orphans(connection)
    with logbook.writing() as connection:
        trial = connection.begin_nested()
        found += [
            f"The table “{name}” is not what the entries say: pitchwright log rebuild makes it new."
            for name in projection.differences(connection)
        ]
        trial.rollback()
    return tuple(found)


def rebuild(logbook: Logbook) -> int:
    """Make the projection again from the entries, in one transaction; how many were applied."""
    with logbook.writing() as connection:
        return projection.rebuild(connection)


def _integrity(connection: Connection) -> list[str]:
    if connection.dialect.name != "sqlite":
        return []
    found = [
        f"The database itself is damaged: {row[0]}."
        for row in connection.execute(text("PRAGMA integrity_check"))
        if row[0] != "ok"
    ]
    orphans = connection.execute(text("PRAGMA foreign_key_check")).all()
    return found + [f"A row of “{row[0]}” refers to an entry that is not there." for row in orphans]


def _bodies(connection: Connection) -> list[str]:
    found = []
    rows = connection.execute(
        select(entry.c.uid, entry.c.at_utc, entry.c.kind, entry.c.body).execution_options(
            yield_per=5000
        )
    )
    judge = judges()
    for uid, at_utc, kind, body in rows:
        if not is_time(at_utc):
            found.append(f"Entry {uid} has a time that does not exist: {at_utc[:40]}.")
        try:
            judge[kind](body)
        except KeyError:
            found.append(f"Entry {uid} has the unknown kind “{kind}”.")
        except REFUSALS:
            try:
                check_body(kind, body)
            except InputError as refused:
                found.append(f"Entry {uid}: {refused.sentence}")
    return found


def _orphans(connection: Connection) -> list[str]:
    runs = select(procedure_run.c.uid)
    count = connection.scalar(
        select(func.count(func.distinct(entry.c.run))).where(
            entry.c.run.is_not(None), entry.c.run.not_in(runs)
        )
    )
    return [f"{count} runs have events but no beginning."] if count else []
