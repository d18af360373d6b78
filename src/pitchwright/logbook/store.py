"""Open a logbook, add entries to it, read them back.

One transaction an entry: whatever interrupts, an entry is there whole, projection included, or not
at all. SQLite runs with a write-ahead log and full synchronisation, because the mains switch of an
instrument is a likelier end than a crash.
"""

from __future__ import annotations

import os
import re
import socket
import time
import uuid
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import TracebackType
from typing import Any, Unpack

from sqlalchemy import Connection, Engine, create_engine, event, func, insert, select
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, NoSuchModuleError, OperationalError

from pitchwright.errors import InputError
from pitchwright.logbook import projection
from pitchwright.logbook.entries import COLUMNS, About, Body, Entry, entry_of, row_of
from pitchwright.logbook.facts import SurveyRecorded
from pitchwright.logbook.faults import told
from pitchwright.logbook.schema import prepare
from pitchwright.logbook.tables import entry, survey

__all__ = [
    "Logbook",
    "default_url",
    "instrument_uid",
    "iso_utc",
    "new_entry",
    "new_uid",
    "practice_url",
]

_CLOCK_SLACK = timedelta(minutes=2)
_PATIENCE_S = 5.0
_PRAGMAS = (
    "foreign_keys=ON",
    "synchronous=FULL",
    "temp_store=MEMORY",
    "cache_size=-262144",  # KiB at the most: the index of identifiers of some million entries
)
_LOOKED_BACK = 1000
"""Entries that say what time it was last; an index over all of them would slow every import."""
_INSTRUMENTS = uuid.UUID("5f0c5f8e-32a4-4b5e-9d6c-0f5d8a1b7c42")


def default_url() -> str:
    """The logbook that ``PITCHWRIGHT_LOGBOOK`` names, else the one in the user's data folder."""
    from platformdirs import user_data_path

    own = user_data_path("pitchwright", appauthor=False) / "logbook.sqlite"
    return os.environ.get("PITCHWRIGHT_LOGBOOK") or f"sqlite:///{own}"


def practice_url(url: str = "") -> str:
    """Where what was only practised is written down: a logbook beside the real one, never in it."""
    from platformdirs import user_data_path

    parsed = _checked_url(url or default_url())
    if not _is_sqlite(parsed) or parsed.database is None:
        own = user_data_path("pitchwright", appauthor=False) / "logbook-practice.sqlite"
        return f"sqlite:///{own}"
    real = Path(parsed.database)
    return str(real.with_name(f"{real.stem}-practice{real.suffix}"))


def instrument_uid(name: str) -> str:
    """The identifier that an instrument gets by its name, the same on every bench.

    So two benches that meet an instrument at the same time, or apart from each other, mean the same
    one; upper and lower case alike.
    """
    return uuid.uuid5(_INSTRUMENTS, name.casefold().encode("utf-8", "replace").decode()).hex


def iso_utc(at: datetime) -> str:
    """ISO 8601 in UTC with microseconds and ``Z``: text in this form sorts by time."""
    return f"{at.astimezone(UTC).replace(tzinfo=None).isoformat(timespec='microseconds')}Z"


def new_uid() -> str:
    """Return a fresh identifier: 32 hexadecimal digits."""
    return uuid.uuid4().hex


def new_entry(what: Body, bench: str, now: datetime, about: About) -> Entry:
    """An entry of a fresh identifier, of ``now`` unless ``about`` says when it happened."""
    return Entry(
        uid=new_uid(),
        at_utc=iso_utc(about.get("at") or now),
        bench=bench,
        what=what,
        run=about.get("run"),
        instrument=about.get("instrument"),
        corrects=about.get("corrects"),
    )


class Logbook:
    """An open logbook; a context manager.

    Parameters
    ----------
    url
        ``sqlite:///FILE``, ``postgresql://USER@HOST/NAME``, or just a file's path.
    bench
        The name of this bench, written with each entry; the computer's name where empty.
    now
        The clock.
    warn
        Is given a sentence where something should be known but nothing is refused.

    Raises
    ------
    InputError
        Where the file cannot be opened, is not a logbook, is damaged, is locked, or was made by a
        newer version; it is then left as it was.
    """

    def __init__(
        self,
        url: str = "",
        *,
        bench: str = "",
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
        warn: Callable[[str], None] = lambda _: None,
    ) -> None:
        self.url = _checked_url(url or default_url())
        self.where = self.url.render_as_string(hide_password=True)
        if self.url.get_backend_name() == "sqlite":
            self.where = self.url.database or ""
            self._file: Path | None = Path(self.where)
        else:
            self._file = None
        self.bench = bench or socket.gethostname()
        self._now = now
        self.engine = _engine(self.url)
        try:
            with told(self.where):
                _patiently(lambda: prepare(self.engine, self._file))
                self._check_clock(warn)
        except BaseException:
            self.engine.dispose()
            raise

    def __enter__(self) -> Logbook:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def now(self) -> datetime:
        """What time it is, by the logbook's clock."""
        return self._now()

    def close(self) -> None:
        """Close it; nothing is lost where this is never reached."""
        self.engine.dispose()

    def append(self, what: Body, **about: Unpack[About]) -> Entry:
        """Write one thing down, in a transaction of its own, and return its entry."""
        written = new_entry(what, self.bench, self._now(), about)
        row = dict(zip(COLUMNS, row_of(written), strict=True))

        def write() -> None:
            with self._writing() as connection:
                connection.execute(insert(entry), row)
                projection.apply(connection, written)

        with told(self.where):
            _patiently(write)
        return written

    def entries(
        self,
        *,
        kinds: Sequence[str] = (),
        run: str | None = None,
        instrument: str | None = None,
        newest_first: bool = False,
        limit: int | None = None,
    ) -> Iterator[Entry]:
        """The entries in the order written down, those of certain kinds, run or instrument only.

        Those of a run, and the recorded surveys, are found at once; all else is looked through.
        """
        wanted = select(entry).order_by(entry.c.id.desc() if newest_first else entry.c.id)
        if tuple(kinds) == (SurveyRecorded.kind,):
            wanted = wanted.join(survey, survey.c.uid == entry.c.uid)
            if instrument is not None:
                wanted = wanted.where(survey.c.instrument == instrument)
                instrument = None
        elif kinds:
            wanted = wanted.where(entry.c.kind.in_(kinds))
        if run is not None:
            wanted = wanted.where(entry.c.run == run)
        if instrument is not None:
            wanted = wanted.where(entry.c.instrument == instrument)
        if limit is not None:
            wanted = wanted.limit(limit)
        with self.reading() as connection:
            for row in connection.execute(wanted.execution_options(yield_per=2000)):
                yield entry_of(row)

    def entry_named(self, start: str) -> Entry:
        """The one entry whose identifier begins like this.

        Raises
        ------
        InputError
            Where none or several do, or fewer than six letters are given.
        """
        given = start.strip().casefold()
        if not 6 <= len(given) <= 32 or not set(given) <= set("0123456789abcdef"):
            raise InputError(
                f"“{start[:40]}” names no entry", do="Give six letters or more, as log shows them"
            )
        wanted = select(entry).where(entry.c.uid >= given, entry.c.uid < f"{given}g").limit(2)
        with self.reading() as connection:
            found = [entry_of(row) for row in connection.execute(wanted)]
        if len(found) != 1:
            what = "Several entries begin" if found else "No entry begins"
            raise InputError(f"{what} with {given}", self.where, "pitchwright log shows them")
        return found[0]

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection that reads; errors become sentences."""
        with told(self.where), self.engine.connect() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction that writes, kept whole or undone; errors become sentences."""
        with told(self.where), self._writing() as connection:
            yield connection

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        with (
            self.engine.connect().execution_options(writes=True) as connection,
            connection.begin(),
        ):
            yield connection

    def _check_clock(self, warn: Callable[[str], None]) -> None:
        newest_first = select(entry.c.bench, entry.c.at_utc).order_by(entry.c.id.desc())
        last = newest_first.limit(_LOOKED_BACK).subquery()
        with self.engine.connect() as connection:
            newest = connection.scalar(
                select(func.max(last.c.at_utc)).where(last.c.bench == self.bench)
            )
        now = self._now()
        if newest is not None and newest > iso_utc(now + _CLOCK_SLACK):
            warn(
                f"The clock of this computer says {iso_utc(now)[:16]}, but the logbook has an entry"
                f" of {newest[:16]} from this bench: set the clock; entries keep their order, their"
                " times may be wrong."
            )


def _patiently(work: Callable[[], None]) -> None:
    """Do it again where another is just opening, closing or writing, as long as a writer waits.

    SQLite waits by itself for another writer, but not while the last one leaves or the first one
    comes: then it says at once that the file is locked.
    """
    until = time.monotonic() + _PATIENCE_S
    while True:
        try:
            return work()
        except OperationalError as fault:
            if "locked" not in str(fault.orig) or time.monotonic() >= until:
                raise
            time.sleep(0.02)


def _checked_url(text: str) -> URL:
    if "://" not in text:
        return URL.create("sqlite", database=str(Path(text).absolute()))
    try:
        url = make_url(text)
    except (ArgumentError, ValueError):  # a port that is no number
        raise InputError(
            "This is not the address of a logbook",
            _without_password(text),
            "Give a file's path, sqlite:///FILE or postgresql://USER@HOST/NAME",
        ) from None
    backend = url.get_backend_name()
    if backend == "sqlite":
        if not url.database or url.database == ":memory:":
            raise InputError("A logbook in memory would be lost", text[:80], "Give a file's path")
        return url
    if backend == "postgresql":
        return url.set(drivername="postgresql+psycopg")
    raise InputError(
        f"A logbook cannot be kept in {backend}",
        _without_password(text),
        "Use sqlite:/// or postgresql://",
    )


def _without_password(address: str) -> str:
    """An address as it may be shown, also where it cannot be taken apart."""
    return re.sub(r"(?<=://).*@", "…@", address, flags=re.DOTALL)[:80]


def _engine(url: URL) -> Engine:
    try:
        engine = create_engine(
            url,
            connect_args={"timeout": _PATIENCE_S} if _is_sqlite(url) else {"connect_timeout": 5},
        )
    except (NoSuchModuleError, ModuleNotFoundError):
        raise InputError(
            "PostgreSQL needs a part that is not installed",
            do="Run: pip install 'pitchwright[workshop]'",
        ) from None
    if _is_sqlite(url):
        event.listen(engine, "connect", _set_up_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
    return engine


def _is_sqlite(url: URL) -> bool:
    return url.get_backend_name() == "sqlite"


def _set_up_sqlite(raw: Any, _record: Any) -> None:
    # The driver would begin transactions by itself, too late to keep a second writer out.
    raw.isolation_level = None
    for pragma in _PRAGMAS:
        raw.execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
