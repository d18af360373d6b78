"""The logbook on a real PostgreSQL server, which the fixture starts and stops."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from pitchwright.cli import main
from pitchwright.errors import InputError
from pitchwright.logbook.care import back_up, check, rebuild
from pitchwright.logbook.exchange import export_lines, import_lines
from pitchwright.logbook.facts import EntryWithdrawn, InstrumentDescribed, NoteWritten
from pitchwright.logbook.history import due, find_instrument, history, instruments
from pitchwright.logbook.store import Logbook, new_uid
from pitchwright.logbook.tables import SCHEMA_VERSION, metadata
from pitchwright.upkeep import Recorder

pytestmark = pytest.mark.needs("postgresql")

PROGRAMS = sorted(Path("/usr/lib/postgresql").glob("*/bin"))


def as_server(*command: str | Path) -> None:
    """Run a program of the server; it refuses to run as root."""
    user = "postgres" if os.geteuid() == 0 else None
    done = subprocess.run(
        [str(part) for part in command],
        user=user,
        group=user,
        cwd="/",
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, f"{command}: {done.stdout}{done.stderr}"


@pytest.fixture(scope="module")
def server() -> Iterator[Path]:
    """Folder of a running server's socket; a socket's path must be short."""
    folder = Path(tempfile.mkdtemp(prefix="pitchwright-"))
    if os.geteuid() == 0:
        owner = pwd.getpwnam("postgres")
        os.chown(folder, owner.pw_uid, owner.pw_gid)
    programs = PROGRAMS[-1]
    data = folder / "data"
    try:
        as_server(programs / "initdb", "-D", data, "-A", "trust", "-U", "bench", "--no-sync")
        options = f"-k {folder} -c listen_addresses='' -c fsync=off"
        log = folder / "log"
        as_server(
            programs / "pg_ctl", "-D", data, "-w", "-t", "240", "-l", log, "-o", options, "start"
        )
        try:
            yield folder
        finally:
            as_server(programs / "pg_ctl", "-D", data, "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def url(server: Path) -> str:
    """An empty database on the server."""
    name = f"logbook_{new_uid()[:12]}"
    as_server(PROGRAMS[-1] / "createdb", "-h", server, "-U", "bench", name)
    return f"postgresql://bench@/{name}?host={server}"


@pytest.fixture
def exported(logbook: Logbook, tmp_path: Path) -> Path:
    path = tmp_path / "exported.jsonl"
    export_lines(logbook, path)
    return path


def test_the_tables_are_made_and_found_again(url: str) -> None:
    with Logbook(url, bench="loft") as book:
        book.append(NoteWritten("first"))
    with Logbook(url, bench="stairs") as book, book.reading() as connection:
        version = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
        assert version == SCHEMA_VERSION
        texts = [e.what.text for e in book.entries() if isinstance(e.what, NoteWritten)]
        assert texts == ["first"]


def test_the_steps_lead_to_the_tables_that_are_described(url: str) -> None:
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    with Logbook(url) as book, book.reading() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []


def test_years_come_over_from_sqlite_and_go_back(
    logbook: Logbook, exported: Path, url: str, tmp_path: Path
) -> None:
    with Logbook(url, bench="loft") as book:
        assert import_lines(book, exported) == (10, 0)
        assert import_lines(book, exported) == (0, 10)
        assert list(book.entries()) == list(logbook.entries())
        assert due(book) == due(logbook)
        heron = find_instrument(book, "Heron").uid
        assert history(book, heron) == history(logbook, heron)
        wrong = history(book, heron)[0]
        book.append(EntryWithdrawn("wrong cable"), instrument=heron, corrects=wrong.uid)
        rebuild(book)
        assert len(history(book, heron)) == 7
        assert check(book) == ()
        export_lines(book, tmp_path / "back.jsonl")
    assert import_lines(logbook, tmp_path / "back.jsonl") == (1, 10)


def test_a_damaged_file_leaves_nothing_behind(exported: Path, url: str) -> None:
    lines = exported.read_text().splitlines(keepends=True)
    exported.write_text("".join([*lines[:-1], lines[-1].replace('"as left"', '"as lost"')]))
    with Logbook(url) as book:
        with pytest.raises(InputError, match=f"line {len(lines)}, survey recorded, field state"):
            import_lines(book, exported)
        assert list(book.entries()) == []


def test_the_server_itself_refuses_to_change_an_entry(url: str) -> None:
    with Logbook(url) as book:
        book.append(NoteWritten("first"))
        for statement in (
            "UPDATE entry SET body = '{}'",
            "DELETE FROM entry",
            "TRUNCATE entry CASCADE",
        ):
            with pytest.raises(InputError, match="never changed"), book.writing() as connection:
                connection.exec_driver_sql(statement)
        assert len(list(book.entries())) == 1


@pytest.mark.parametrize(
    "name", ["\x00", "Hérøn “♯” '; DROP TABLE entry; --\n" * 300, "\ud800 half a letter"]
)
def test_any_name_is_kept(url: str, name: str) -> None:
    with Logbook(url) as book:
        book.append(InstrumentDescribed(name, fed_by=name), instrument=new_uid())
        (known,) = instruments(book)
        assert len(known.name) == len(name)
        assert check(book) == ()


def test_without_the_server_it_is_a_sentence_and_nothing_is_lost(
    server: Path, url: str, tmp_path: Path
) -> None:
    said: list[str] = []
    nobody = url.replace("bench@", "nobody@")
    nowhere = url.replace(str(server), str(tmp_path))
    for broken in (nobody, nowhere, url.replace("logbook_", "no_")):
        with Recorder(broken, warn=said.append, aside=tmp_path) as recorder:
            recorder.instrument("Heron")
            aside = Path(recorder.where)
        with Logbook(url) as book:
            import_lines(book, aside)
            assert [known.name for known in instruments(book)] == ["Heron"]
    assert len(said) == 3
    assert all("pitchwright log import" in sentence for sentence in said)


def test_the_commands_work_on_it(url: str, capsys: pytest.CaptureFixture[str]) -> None:
    for arguments, wanted in (
        (("note", "in the workshop"), "Written down"),
        (("instrument", "Heron", "--fed-by", "output 2"), "fed by output 2"),
        ((), "note: in the workshop"),
        (("due",), "Heron: unknown"),
        (("check",), "all is well"),
    ):
        with pytest.raises(SystemExit) as left:
            main(["log", *arguments, "--logbook", url])
        assert left.value.code == 0
        assert wanted in " ".join(capsys.readouterr().out.split())


def test_its_backup_is_the_servers_business(url: str, tmp_path: Path) -> None:
    with Logbook(url) as book, pytest.raises(InputError, match="own tools"):
        back_up(book, tmp_path / "copy.sqlite")


BENCH = """
import sys
from pitchwright.logbook.facts import InstrumentDescribed, NoteWritten
from pitchwright.logbook import store
from pitchwright.logbook.history import identifier_of
from pitchwright.logbook.store import Logbook
store._PATIENCE_S = 120.0  # both write without a pause here, on a disk that may be slow
url, bench, count = sys.argv[1], sys.argv[2], int(sys.argv[3])
print("ready", flush=True)
sys.stdin.readline()
with Logbook(url, bench=bench) as book:
    uid = identifier_of(book, "Heron")
    for number in range(count):
        book.append(InstrumentDescribed("Heron", fed_by=f"{bench} {number}"), instrument=uid)
        book.append(NoteWritten(f"{bench} {number}"))
"""


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_two_benches_at_once_lose_nothing(
    kind: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    count = 15
    url = (
        str(request.getfixturevalue("url"))
        if kind == "postgresql"
        else str(tmp_path / "logbook.sqlite")
    )
    benches = [
        subprocess.Popen(
            [sys.executable, "-c", BENCH, url, name, str(count)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for name in ("loft", "stairs")
    ]
    for bench in benches:
        assert bench.stdout is not None
        assert bench.stdout.readline() == "ready\n"
    for bench in benches:  # both make the tables, if nobody has
        assert bench.stdin is not None
        bench.stdin.write("\n")
        bench.stdin.flush()
    for bench in benches:
        bench.communicate(timeout=300)
        assert bench.returncode == 0
    with Logbook(url) as book:
        for name in ("loft", "stairs"):
            texts = [
                entry.what.text
                for entry in book.entries()
                if isinstance(entry.what, NoteWritten) and entry.bench == name
            ]
            assert texts == [f"{name} {number}" for number in range(count)]
        (known,) = instruments(book)
        assert known.name == "Heron"
        assert check(book) == ()
