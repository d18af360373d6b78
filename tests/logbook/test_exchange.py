"""Out and in again: the same, once, and nothing where anything is wrong."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pitchwright.errors import InputError
from pitchwright.logbook.care import check, rebuild
from pitchwright.logbook.exchange import (
    READINGS_HEADINGS,
    export_lines,
    import_lines,
    lines_schema,
    readings_rows,
)
from pitchwright.logbook.facts import EntryWithdrawn, NoteWritten
from pitchwright.logbook.history import due, find_instrument, history
from pitchwright.logbook.store import Logbook


@pytest.fixture
def exported(logbook: Logbook, tmp_path: Path) -> Path:
    path = tmp_path / "exported.jsonl"
    export_lines(logbook, path)
    return path


@pytest.fixture
def empty(tmp_path: Path) -> Logbook:
    return Logbook(str(tmp_path / "empty.sqlite"), bench="stairs")


def test_an_exported_logbook_comes_back_the_same(
    logbook: Logbook, exported: Path, empty: Logbook, tmp_path: Path
) -> None:
    assert import_lines(empty, exported) == (10, 0)
    assert list(empty.entries()) == list(logbook.entries())
    assert due(empty) == due(logbook)
    assert check(empty) == ()
    again = tmp_path / "again.jsonl"
    export_lines(empty, again)
    assert again.read_bytes() == exported.read_bytes()


def test_importing_twice_adds_nothing(exported: Path, empty: Logbook) -> None:
    import_lines(empty, exported)
    assert import_lines(empty, exported) == (0, 10)
    assert len(list(empty.entries())) == 10


def test_the_order_of_arrival_does_not_matter(
    exported: Path, empty: Logbook, tmp_path: Path
) -> None:
    lines = exported.read_text().splitlines(keepends=True)
    late, early = tmp_path / "late.jsonl", tmp_path / "early.jsonl"
    late.write_text("".join([lines[0], *lines[6:]]))
    early.write_text("".join(lines[:6]))
    import_lines(empty, late)
    import_lines(empty, early)
    heron = find_instrument(empty, "Heron").uid
    before = history(empty, heron)
    rebuild(empty)
    assert history(empty, heron) == before
    assert check(empty) == ()


def test_every_line_is_valid_by_the_published_schema(exported: Path) -> None:
    # The jsonschema library is the outside judge of the schema we publish.
    schema = lines_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    for line in exported.read_text().splitlines()[1:]:
        validator.validate(json.loads(line))


def test_readings_for_a_spreadsheet(logbook: Logbook) -> None:
    rows = list(readings_rows(logbook))
    assert len(rows) == 8 * 6
    first = dict(zip(READINGS_HEADINGS, rows[0], strict=True))
    assert first["instrument"] == "Heron"
    assert first["note"] == 24.0


def damaged(lines: list[str], number: int, **changed: object) -> list[str]:
    content = json.loads(lines[number - 1])
    content.update(changed)
    return [*lines[: number - 1], json.dumps(content) + "\n", *lines[number:]]


@pytest.mark.parametrize(
    ("number", "changed", "said"),
    [
        (1, {"format": "birds"}, "line 1: This is not an exported logbook"),
        (1, {"version": 99}, "line 1: The file has version 99"),
        (3, {"uid": "x"}, "line 3, field uid"),
        (3, {"at_utc": "yesterday"}, "line 3, field at_utc"),
        (3, {"at_utc": "2026-13-01T10:00:00.000000Z"}, "There is no 2026-13-01 in the calendar"),
        (3, {"at_utc": "2026-02-30T10:00:00.000000Z"}, "There is no 2026-02-30 in the calendar"),
        (3, {"at_utc": "0001-01-01T10:00:00.000000Z"}, "line 3, field at_utc"),
        (3, {"at_utc": "2026-02-01T24:00:00.000000Z"}, "line 3, field at_utc"),
        (4, {"kind": "bird seen"}, "line 4, field kind"),
        (5, {"body": {"state": "as found"}}, "line 5, survey recorded, field points"),
        (4, {"colour": "blue"}, "line 4: “colour” is not known here"),
        (4, {"corrects": "0" * 32}, "field corrects"),
    ],
)
def test_what_is_refused_is_named_and_nothing_is_written(
    exported: Path, empty: Logbook, number: int, changed: dict[str, object], said: str
) -> None:
    lines = exported.read_text().splitlines(keepends=True)
    exported.write_text("".join(damaged(lines, number, **changed)))
    with pytest.raises(InputError) as refused:
        import_lines(empty, exported)
    assert said in refused.value.sentence
    assert list(empty.entries()) == []


def count_of(book: Logbook) -> int:
    with book.reading() as connection:
        return int(connection.exec_driver_sql("SELECT count(*) FROM entry").scalar() or 0)


def import_or_refuse(book: Logbook, path: Path) -> None:
    """Import what may be damaged: all of it and sound, or nothing and a sentence."""
    before = count_of(book)
    try:
        new, _ = import_lines(book, path)
    except InputError:
        assert count_of(book) == before
    else:
        assert count_of(book) == before + new
        if new:
            assert check(book) == ()


# Two thousand files in CI: half of them damaged anywhere, half with a field that is wrong.
FUZZ = settings(
    settings.get_profile("fuzz"),
    max_examples=settings.get_profile("fuzz").max_examples // 2,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


@FUZZ
@given(data=st.data())
def test_no_damaged_file_breaks_the_import(
    exported: Path, empty: Logbook, data: st.DataObject
) -> None:
    whole = exported.read_bytes()
    place = data.draw(st.integers(0, len(whole) - 1))
    length = data.draw(st.integers(0, 40))
    junk = data.draw(st.binary(max_size=40) | st.sampled_from([b"\x00", b"1e999", b'"', b"\n"]))
    fuzzed = exported.with_name("fuzzed.jsonl")
    fuzzed.write_bytes(whole[:place] + junk + whole[place + length :])
    import_or_refuse(empty, fuzzed)


ANYTHING = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.sampled_from(["", "inf", "nan", "as found", "started", "0" * 32, "\x00", "2026-02-31"])
    | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=4,
)


@FUZZ
@given(data=st.data())
def test_no_wrong_field_breaks_the_import(
    exported: Path, empty: Logbook, data: st.DataObject
) -> None:
    lines = [json.loads(line) for line in exported.read_text().splitlines()]
    place = data.draw(st.integers(0, len(lines) - 1))
    inside = lines[place]
    while isinstance(inside, dict | list) and inside:
        keys = list(inside) if isinstance(inside, dict) else range(len(inside))
        key = data.draw(st.sampled_from(keys))
        if not isinstance(inside[key], dict | list) or data.draw(st.booleans()):
            inside[key] = data.draw(ANYTHING)
            break
        inside = inside[key]
    fuzzed = exported.with_name("fuzzed.jsonl")
    fuzzed.write_text("".join(json.dumps(line) + "\n" for line in lines))
    import_or_refuse(empty, fuzzed)


def test_a_figure_beyond_all_figures_is_refused(exported: Path, empty: Logbook) -> None:
    lines = exported.read_text().splitlines(keepends=True)
    assert '"temperature_c":21.0' in lines[3]
    lines[3] = lines[3].replace('"temperature_c":21.0', '"temperature_c":1e999')
    exported.write_text("".join(lines))
    with pytest.raises(InputError, match="line 4, field body"):
        import_lines(empty, exported)
    assert list(empty.entries()) == []


def test_a_missing_and_an_empty_file(empty: Logbook, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        import_lines(empty, tmp_path / "no.jsonl")
    (tmp_path / "nothing.jsonl").touch()
    with pytest.raises(InputError, match="empty"):
        import_lines(empty, tmp_path / "nothing.jsonl")


def test_a_null_character_in_a_name_is_refused_or_kept(empty: Logbook) -> None:
    empty.append(NoteWritten("before\x00after"))
    (back,) = empty.entries()
    assert isinstance(back.what, NoteWritten)
    assert back.what.text == "before\x00after"


def test_empty_lines_and_other_spacing_are_taken_in_and_counted(
    logbook: Logbook, exported: Path, empty: Logbook
) -> None:
    note = logbook.append(NoteWritten("wrong"))
    logbook.append(EntryWithdrawn("not so"), corrects=note.uid)
    export_lines(logbook, exported)
    lines = [json.loads(line) for line in exported.read_text().splitlines()]
    exported.write_text("\n\n".join(json.dumps(line, indent=None) for line in lines))
    assert import_lines(empty, exported) == (12, 0)
    assert list(empty.entries()) == list(logbook.entries())
    lines[-1].update(uid="e" * 32, corrects="f" * 32)
    exported.write_text(" \n\n".join(json.dumps(line) for line in lines))
    with pytest.raises(InputError, match=f"line {2 * len(lines) - 1}, field corrects"):
        import_lines(empty, exported)


def test_an_entry_over_several_lines_is_refused(exported: Path, empty: Logbook) -> None:
    lines = exported.read_text().splitlines()
    exported.write_text("\n".join([*lines[:3], json.dumps(json.loads(lines[3]), indent=1)]))
    with pytest.raises(InputError, match="line 4: This is not JSON"):
        import_lines(empty, exported)
    assert list(empty.entries()) == []


def test_a_file_that_changes_while_it_is_read_is_refused(exported: Path, empty: Logbook) -> None:
    def meddle(share: float) -> None:
        if share == 0.5:  # it was checked, and is read once more
            exported.write_bytes(exported.read_bytes().replace(b"bought second-hand", b"new"))

    with pytest.raises(InputError, match="changed while it was read"):
        import_lines(empty, exported, meddle)
    assert list(empty.entries()) == []


def test_a_line_that_never_ends_is_refused(exported: Path, empty: Logbook) -> None:
    with exported.open("ab") as more:
        more.write(b'{"uid": "' + b"a" * 17_000_000)
    with pytest.raises(InputError, match="line 12: This line is too long"):
        import_lines(empty, exported)


def test_two_times_in_one_place_and_none_in_the_next_are_refused(
    exported: Path, empty: Logbook
) -> None:
    lines = exported.read_text().splitlines(keepends=True)
    first, second = (json.loads(line)["at_utc"] for line in lines[3:5])
    lines = damaged(damaged(lines, 4, at_utc=first + second), 5, at_utc="")
    exported.write_text("".join(lines))
    with pytest.raises(InputError, match="line 4, field at_utc"):
        import_lines(empty, exported)


def test_check_tells_a_time_that_does_not_exist(logbook: Logbook) -> None:
    with logbook.writing() as connection:
        connection.exec_driver_sql(
            "INSERT INTO entry (uid, at_utc, bench, kind, body) "
            "SELECT ?, '2026-02-30T10:00:00.000000Z', bench, kind, body FROM entry "
            "WHERE kind = 'note written' LIMIT 1",
            ("e" * 32,),
        )
    (found,) = check(logbook)
    assert found == f"Entry {'e' * 32} has a time that does not exist: 2026-02-30T10:00:00.000000Z."
