"""Make the tables, bring older ones up to date, and refuse what is not ours or too new."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from sqlalchemy import Engine, inspect, text

from pitchwright.errors import InputError
from pitchwright.logbook.tables import SCHEMA_VERSION

__all__ = ["APPLICATION_ID", "prepare"]

APPLICATION_ID: Final = 0x70776C62
"""Marks a SQLite file as a logbook of ours (the letters pwlb)."""

_SQLITE_MAGIC = b"SQLite format 3\x00"


def prepare(engine: Engine, file: Path | None) -> None:
    """Have the newest tables in place, touching nothing that is not a logbook.

    Parameters
    ----------
    engine
        Of the logbook.
    file
        The SQLite file, or None for a server.

    Raises
    ------
    InputError
        Where the file is something else, or was written by a newer version.
    """
    where = str(file) if file is not None else engine.url.render_as_string(hide_password=True)
    if file is not None:
        _check_file(file)
    found = _version(engine, where)
    if found == SCHEMA_VERSION:
        return
    if found is not None and found > SCHEMA_VERSION:
        raise InputError(
            f"This logbook was written by a newer version (its tables are {found}, this program"
            f" knows {SCHEMA_VERSION}); it was left as it is",
            where,
            "Install the newer version of pitchwright",
        )
    if file is not None:
        _mark(engine)
    _migrate(engine)


def _check_file(file: Path) -> None:
    try:
        if file.is_dir():
            raise InputError("This is a folder, not a logbook", str(file), "Give a file's path")
        if not file.exists():
            if file.parent.name == "pitchwright":
                file.parent.mkdir(parents=True, exist_ok=True)
            return
        with file.open("rb") as opened:
            head = opened.read(100)
    except OSError as fault:
        raise InputError(
            f"The logbook cannot be opened: {fault.strerror}", str(file), "Check the permission"
        ) from fault
    if not head:
        return
    if not head.startswith(_SQLITE_MAGIC[: len(head)]):
        raise InputError(
            "This file is not a logbook; it was left as it is", str(file), "Check the path"
        )
    marked = int.from_bytes(head[68:72], "big")
    if len(head) < 100:
        raise InputError(
            "The logbook's file is damaged or cut short; it was left as it is",
            str(file),
            "Keep it, and go on with the newest backup",
        )
    if marked not in (0, APPLICATION_ID):
        raise InputError(
            "This is a database of another program; it was left as it is",
            str(file),
            "Check the path",
        )


def _version(engine: Engine, where: str) -> str | None:
    names = inspect(engine).get_table_names()
    if "alembic_version" not in names:
        if "entry" in names or (names and engine.url.get_backend_name() == "sqlite"):
            raise InputError(
                "This is a database of something else; it was left as it is",
                where,
                "Check the path",
            )
        return None
    with engine.connect() as connection:
        version = connection.scalar(text("SELECT version_num FROM alembic_version"))
    return None if version is None else str(version)


def _mark(engine: Engine) -> None:
    # Below SQLAlchemy's connection, which is always inside a transaction: the write-ahead log can
    # be chosen outside of one only.
    raw = engine.raw_connection()
    try:
        cursor = raw.cursor()
        cursor.execute("PRAGMA journal_mode=WAL")
        cursor.execute(f"PRAGMA application_id={APPLICATION_ID}")
        cursor.close()
    finally:
        raw.close()


def _migrate(engine: Engine) -> None:
    from alembic import command
    from alembic.config import Config

    configuration = Config()
    configuration.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    with engine.connect().execution_options(writes=True) as connection, connection.begin():
        configuration.attributes["connection"] = connection
        if connection.dialect.name == "postgresql":
            # Two benches that meet a new database at once would both make the tables.
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": APPLICATION_ID})
        command.upgrade(configuration, "head")
