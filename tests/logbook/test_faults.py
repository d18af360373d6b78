"""What can happen to the logbook's file: one sentence, the old file untouched, nothing lost.

Each case is tried through the commands, as a person meets it: measuring goes on and its entries go
to a file of their own; looking at the logbook ends with exit code 2.
"""

from __future__ import annotations

import resource
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import event

from pitchwright.cli import main
from pitchwright.errors import InputError
from pitchwright.logbook import store
from pitchwright.logbook.care import check
from pitchwright.logbook.exchange import import_lines
from pitchwright.logbook.facts import NoteWritten
from pitchwright.logbook.history import instruments
from pitchwright.logbook.store import Logbook
from pitchwright.units import note_to_hz


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        main([str(argument) for argument in arguments])
    said = capsys.readouterr()
    assert isinstance(left.value.code, int)
    return left.value.code, " ".join(said.out.split()), " ".join(said.err.split())


def content(folder: Path) -> dict[str, bytes]:
    """What the logbook's files hold; the index of the write-ahead log is no data."""
    return {
        path.name: path.read_bytes()
        for path in folder.iterdir()
        if not path.name.endswith("-shm") and path.stat().st_size
    }


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder for the logbook alone; the person works in another."""
    (tmp_path / "work").mkdir()
    monkeypatch.chdir(tmp_path / "work")
    (tmp_path / "kept").mkdir()
    return tmp_path / "kept"


@pytest.fixture
def table(folder: Path) -> Path:
    path = folder.parent / "work" / "heron.csv"
    rng = np.random.default_rng(5)
    rows = [
        f"{note},{note_to_hz(note) * 2 ** (rng.normal(0, 0.02) / 1200):.6f}"
        for note in range(24, 97, 6)
    ]
    path.write_text("\n".join(["note,f_hz", *rows]) + "\n")
    return path


def foreign(path: Path) -> None:
    path.write_bytes(b"a shopping list, not a database\n" * 400)


def of_another_program(path: Path) -> None:
    raw = sqlite3.connect(path)
    raw.execute("CREATE TABLE birds (name TEXT)")
    raw.execute("PRAGMA application_id=1196444487")
    raw.commit()
    raw.close()


NOTES = 5


def a_good_one(path: Path) -> None:
    with Logbook(str(path)) as book:
        for number in range(NOTES):
            book.append(NoteWritten(f"note {number} " * 400))
    raw = sqlite3.connect(path)
    raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    raw.close()


def cut_short(path: Path) -> None:
    a_good_one(path)
    path.write_bytes(path.read_bytes()[:9000])


def cut_within_its_head(path: Path) -> None:
    a_good_one(path)
    path.write_bytes(path.read_bytes()[:50])


def scribbled_over(path: Path) -> None:
    a_good_one(path)
    whole = bytearray(path.read_bytes())
    for page in range(1, len(whole) // 4096):
        whole[4096 * page : 4096 * page + 100] = b"\xa5" * 100
    path.write_bytes(bytes(whole))


def newer(path: Path) -> None:
    a_good_one(path)
    raw = sqlite3.connect(path)
    raw.execute("UPDATE alembic_version SET version_num = '9999'")
    raw.commit()
    raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    raw.close()


def a_folder(path: Path) -> None:
    path.mkdir()
    (path / "something").write_text("of somebody")


CASES: list[tuple[Callable[[Path], None], str]] = [
    (foreign, "not a logbook"),
    (of_another_program, "another program"),
    (cut_short, "damaged or cut short"),
    (cut_within_its_head, "damaged or cut short"),
    (scribbled_over, "damaged or cut short"),
    (newer, "newer version"),
    (a_folder, "is a folder"),
]


@pytest.mark.parametrize(("make", "said"), CASES, ids=lambda case: getattr(case, "__name__", ""))
def test_measuring_goes_on_and_the_file_is_left_as_it_was(
    folder: Path,
    table: Path,
    capsys: pytest.CaptureFixture[str],
    make: Callable[[Path], None],
    said: str,
) -> None:
    path = folder / "logbook.sqlite"
    make(path)
    before = content(folder) if path.is_file() else {}
    code, out, err = run(
        capsys, "survey", "--table", table, "--no-sheet", "--logbook", path, "--names", "Heron"
    )
    assert code == 0
    assert "Heron is within ±1 cent" in out
    assert said in err
    assert err.count("pitchwright log import") == 1
    (aside,) = Path().glob("logbook-aside-*.jsonl")
    with Logbook("mended.sqlite") as book:
        import_lines(book, aside)
        assert [(known.name, known.surveys) for known in instruments(book)] == [("Heron", 1)]
        assert check(book) == ()
    for command in (("log",), ("log", "check"), ("log", "export", "x.jsonl")):
        code, out, err = run(capsys, *command, "--logbook", path)
        assert code == 2, command
        assert said in err, command
        assert "Internal fault" not in err
    assert not Path("x.jsonl").exists()
    assert (content(folder) if path.is_file() else {}) == before


def test_a_locked_logbook(
    folder: Path,
    table: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(store, "_PATIENCE_S", 0.3)
    path = folder / "logbook.sqlite"
    a_good_one(path)
    raw = sqlite3.connect(path, isolation_level=None)
    raw.execute("PRAGMA locking_mode=EXCLUSIVE")
    raw.execute("BEGIN EXCLUSIVE")
    raw.execute("UPDATE survey SET base_cents = 0")
    code, out, err = run(capsys, "survey", "--table", table, "--no-sheet", "--logbook", path)
    raw.execute("ROLLBACK")
    raw.close()
    assert code == 0
    assert "within ±1 cent" in out
    assert "locked by another program" in err
    (aside,) = Path().glob("logbook-aside-*.jsonl")
    assert run(capsys, "log", "import", aside, "--logbook", path)[0] == 0
    assert "heron, survey, check" in run(capsys, "log", "--logbook", path)[1]


def limit_pages(book: Logbook, pages: int) -> None:
    """Have SQLite believe that the disk holds no more than so many pages."""
    event.listen(
        book.engine, "connect", lambda raw, _: raw.execute(f"PRAGMA max_page_count={pages}")
    )
    book.engine.dispose()


def test_a_full_disk_as_sqlite_sees_it(folder: Path) -> None:
    path = folder / "logbook.sqlite"
    a_good_one(path)
    with Logbook(str(path)) as book:
        limit_pages(book, path.stat().st_size // 4096 + 4)
        written = NOTES
        with pytest.raises(InputError, match="The disk is full"):
            for _ in range(1000):
                book.append(NoteWritten("more " * 200))
                written += 1
        assert len(list(book.entries())) == written
    with Logbook(str(path)) as book:
        book.append(NoteWritten("there is room again"))
        assert len(list(book.entries())) == written + 1
        assert check(book) == ()


@pytest.fixture
def small_disk() -> Iterator[Path]:
    """A file system of 1 MB in memory; only root may make one, and not everywhere."""
    place = Path(tempfile.mkdtemp(prefix="pitchwright-"))
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=1m", "none", str(place)],
        capture_output=True,
        check=False,
    )
    if made.returncode != 0:
        place.rmdir()
        pytest.skip("a small disk can be made by root only")
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)
        place.rmdir()


def test_a_really_full_disk(
    small_disk: Path, folder: Path, table: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = small_disk / "logbook.sqlite"
    with Logbook(str(path)) as book:
        book.append(NoteWritten("first"))
    filler = (small_disk / "filler").open("wb", buffering=0)
    with pytest.raises(OSError, match="No space"):
        while True:
            filler.write(b"x" * 4096)
    filler.close()
    code, out, err = run(capsys, "survey", "--table", table, "--no-sheet", "--logbook", path)
    assert code == 0
    assert "within ±1 cent" in out
    assert "disk" in err
    (aside,) = Path().glob("logbook-aside-*.jsonl")
    (small_disk / "filler").unlink()
    with Logbook(str(path)) as book:
        assert len(list(book.entries())) == 1
        import_lines(book, aside)
        assert [known.surveys for known in instruments(book)] == [1]
        assert check(book) == ()


CHILD = """
import os, resource, signal, sys
from pathlib import Path
from pitchwright.logbook.facts import NoteWritten
from pitchwright.upkeep import Recorder
# Everything is loaded before the limit or the other user comes.
from pitchwright.logbook import store
from pitchwright.logbook.care import check
from pitchwright.logbook.store import Logbook
import tempfile
with tempfile.TemporaryDirectory() as warm:
    Logbook(warm + "/logbook.sqlite").close()
path, aside = sys.argv[1], Path(sys.argv[2])
if sys.argv[3] == "limit":
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[4]), int(sys.argv[4])))
elif os.geteuid() == 0:
    os.setgid(65534)
    os.setuid(65534)
with Recorder(path, warn=lambda said: print(said), aside=aside) as recorder:
    for number in range(int(sys.argv[5])):
        recorder.write(NoteWritten(f"late {number} " + "more " * 100))
"""


def in_a_child(*arguments: str | Path) -> str:
    done = subprocess.run(
        [sys.executable, "-c", CHILD, *(str(argument) for argument in arguments)],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return done.stdout


@pytest.mark.skipif(not hasattr(resource, "RLIMIT_FSIZE"), reason="needs a limit on files")
def test_a_disk_that_refuses_on_the_way(folder: Path) -> None:
    path = folder / "logbook.sqlite"
    a_good_one(path)
    # Some more fit; then neither the file nor its write-ahead log may grow.
    limit = path.stat().st_size + 100_000
    said = in_a_child(path, folder.parent, "limit", str(limit), "40")
    assert said.count("pitchwright log import") == 1
    (aside,) = folder.parent.glob("logbook-aside-*.jsonl")
    with Logbook(str(path)) as book:
        before = len(list(book.entries()))
        assert NOTES < before < NOTES + 40
        import_lines(book, aside)
        texts = [entry.what.text for entry in book.entries() if isinstance(entry.what, NoteWritten)]
        late = [int(text.split()[1]) for text in texts if text.startswith("late ")]
        assert late == list(range(40))
        assert check(book) == ()


@pytest.mark.parametrize("what", ["folder", "file"])
def test_a_read_only_folder_or_file(what: str) -> None:
    place = Path(tempfile.mkdtemp(prefix="pitchwright-"))
    try:
        place.chmod(0o755)
        folder, aside = place / "kept", place / "aside"
        folder.mkdir()
        aside.mkdir()
        aside.chmod(0o777)
        path = folder / "logbook.sqlite"
        a_good_one(path)
        before = content(folder)
        path.chmod(0o444)
        folder.chmod(0o555 if what == "folder" else 0o777)
        said = in_a_child(path, aside, "user", "0", "3")
        assert said.count("pitchwright log import") == 1
        assert "read-only" in said or "cannot be opened" in said
        (kept,) = aside.glob("logbook-aside-*.jsonl")
        folder.chmod(0o755)
        assert content(folder) == before
        path.chmod(0o644)
        with Logbook(str(path)) as book:
            assert import_lines(book, kept) == (3, 0)
            assert check(book) == ()
    finally:
        subprocess.run(["rm", "-rf", str(place)], check=True)


def test_a_clock_that_jumped_back_is_said_and_nothing_changes_its_place(
    folder: Path, table: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from datetime import UTC, datetime, timedelta

    path = folder / "logbook.sqlite"
    ahead = datetime.now(UTC) + timedelta(days=400)
    with Logbook(str(path), now=lambda: ahead) as book:
        book.append(NoteWritten("from the future"))
    code, _, err = run(capsys, "survey", "--table", table, "--no-sheet", "--logbook", path)
    assert code == 0
    assert err.count("set the clock") == 1
    with Logbook(str(path)) as book:
        kinds = [entry.what.kind for entry in book.entries()]
        assert kinds == ["note written", "instrument described", "survey recorded"]
        assert check(book) == ()
