"""What earlier versions wrote is still read: exported files, and logbooks of earlier tables.

``exported/`` keeps a file of each version of the format as it was written then, never changed. The
practice rig's instruments stand in them; all of it is invented.
"""

from __future__ import annotations

import json
import math
import runpy
from itertools import pairwise
from pathlib import Path

import jsonschema
import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from sqlalchemy import create_engine

from pitchwright import logbook
from pitchwright.logbook.care import check, rebuild
from pitchwright.logbook.entries import KINDS
from pitchwright.logbook.exchange import export_lines, import_lines, lines_schema
from pitchwright.logbook.facts import InstrumentDescribed
from pitchwright.logbook.history import find_instrument, instruments, known_trimmers
from pitchwright.logbook.lines import VERSION, entry_line
from pitchwright.logbook.schema import APPLICATION_ID
from pitchwright.logbook.store import Logbook, instrument_uid
from pitchwright.logbook.tables import SCHEMA_VERSION, metadata
from pitchwright.procedures.outcomes import ForecastMade
from pitchwright.stability import Readiness

HERE = Path(__file__).parent
EXPORTED = sorted((HERE / "exported").glob("version-*.jsonl"))


def test_the_published_schema_is_that_of_the_kinds_there_are() -> None:
    written = runpy.run_path(str(HERE / "write_schema.py"))
    published = (HERE.parents[1] / "docs/schema/logbook.schema.json").read_text(encoding="utf-8")
    assert published == written["schema_text"](), "run: python tests/logbook/write_schema.py"


def test_each_version_has_a_file() -> None:
    heads = [json.loads(path.read_text().splitlines()[0])["version"] for path in EXPORTED]
    assert sorted(set(heads)) == list(range(1, VERSION + 1))


@pytest.mark.parametrize("path", EXPORTED, ids=lambda path: path.stem)
def test_a_file_of_an_earlier_version_is_taken_in(path: Path, tmp_path: Path) -> None:
    with Logbook(str(tmp_path / "new.sqlite")) as book:
        new, known = import_lines(book, path)
        assert (new, known) == (len(path.read_text().splitlines()) - 1, 0)
        assert check(book) == ()
        heron = find_instrument(book, "Heron")
        assert heron.surveys == 2
        assert known_trimmers(book, heron.uid)
        out = tmp_path / "again.jsonl"
        export_lines(book, out)
    # The jsonschema library is the outside judge of what is written now.
    validator = jsonschema.Draft202012Validator(lines_schema())
    for line in out.read_text(encoding="utf-8").splitlines()[1:]:
        validator.validate(json.loads(line))


def kinds_in(path: Path) -> set[str]:
    return {json.loads(line)["kind"] for line in path.read_text().splitlines()[1:]}


def test_the_newest_version_has_a_file_with_every_kind_that_a_run_without_trouble_writes() -> None:
    assert KINDS.keys() - kinds_in(EXPORTED[-1]) == {"turning", "ask", "chosen", "interrupted"}


def test_each_version_holds_what_the_one_before_did() -> None:
    for earlier, later in pairwise(EXPORTED):
        assert kinds_in(earlier) < kinds_in(later)


def test_words_for_infinity_go_out_and_come_in(tmp_path: Path) -> None:
    never = ForecastMade(
        oscillator="Heron",
        note=math.nan,
        readiness=next(iter(Readiness)),
        ready_in_s=math.inf,
        ready_in_low_s=0.0,
        ready_in_high_s=math.inf,
        sure=0.5,
        drift_cents=None,
        wander_cents=None,
        u_wander_cents=None,
        cents_per_k=None,
        u_cents_per_k=None,
        tolerance_cents=1.0,
        horizon_s=1800.0,
        watched_s=60.0,
        sentence="Not in sight.",
        why="It drifts on.",
    )
    with Logbook(str(tmp_path / "first.sqlite")) as book:
        book.append(never, instrument=instrument_uid("Heron"))
        assert check(book) == ()
        export_lines(book, tmp_path / "out.jsonl")
    line = (tmp_path / "out.jsonl").read_text().splitlines()[1]
    jsonschema.Draft202012Validator(lines_schema()).validate(json.loads(line))
    with Logbook(str(tmp_path / "second.sqlite")) as book:
        assert import_lines(book, tmp_path / "out.jsonl") == (1, 0)
        (back,) = book.entries()
    assert isinstance(back.what, ForecastMade)
    assert back.what.ready_in_s == math.inf
    assert math.isnan(back.what.note)
    assert entry_line(back) == line + "\n"


def test_a_logbook_of_the_first_tables_is_brought_up_to_date(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    engine = create_engine(f"sqlite:///{path}")
    configuration = Config()
    place = Path(str(logbook.__file__)).parent / "migrations"
    configuration.set_main_option("script_location", str(place))
    uid = instrument_uid("Heron")
    with engine.begin() as connection:
        connection.exec_driver_sql(f"PRAGMA application_id={APPLICATION_ID}")
        configuration.attributes["connection"] = connection
        command.upgrade(configuration, "0001")
        connection.exec_driver_sql(
            "INSERT INTO entry (uid, at_utc, bench, kind, instrument, body) VALUES (?,?,?,?,?,?)",
            (
                "1" * 32,
                "2025-01-01T00:00:00.000000Z",
                "loft",
                InstrumentDescribed.kind,
                uid,
                '{"name":"Heron"}',
            ),
        )
    engine.dispose()
    with Logbook(str(path)) as book:
        with book.reading() as connection:
            version = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
            assert version == SCHEMA_VERSION
            assert compare_metadata(MigrationContext.configure(connection), metadata) == []
        assert "The table “instrument” is not what" in " ".join(check(book))  # not projected yet
        (described,) = book.entries()
        assert described.what == InstrumentDescribed("Heron")
        rebuild(book)
        assert [known.name for known in instruments(book)] == ["Heron"]
        assert check(book) == ()
