"""The logbook from the terminal: what was done when, how it changed, in and out."""

from __future__ import annotations

import csv
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from pitchwright.cli import main
from pitchwright.logbook.facts import Figures, InstrumentDescribed, SurveyRecorded
from pitchwright.logbook.store import Logbook, instrument_uid
from pitchwright.procedures.circumstances import Conditions, SurveyState
from pitchwright.procedures.events import Started
from pitchwright.procedures.requests import Heard, ReadingsTaken
from pitchwright.tracking import Point

START = datetime(2022, 3, 1, 12, 0, tzinfo=UTC)
HERON = instrument_uid("Heron")


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        main([str(argument) for argument in arguments])
    said = capsys.readouterr()
    assert isinstance(left.value.code, int)
    return left.value.code, " ".join(said.out.split()), said.err


def read_json(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> dict[str, object]:
    code, out, err = run(capsys, *arguments, "--json")
    assert (code, err) == (0, "")
    content = json.loads(out)
    assert isinstance(content, dict)
    return content


def some_survey(state: SurveyState, scale: float, u: float = 0.02) -> SurveyRecorded:
    points = tuple(Point(note, (note - 24) / 12, 32.703, 0.03) for note in (24.0, 36.0, 48.0))
    figures = Figures(0.2, 0.03, scale, u, None, None, 1.0, 24.0, 84.0)
    return SurveyRecorded(state, points, figures, Conditions(21.0))


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def years() -> None:
    """Heron drifts by 0.12 cents per octave a month and is trimmed once a year."""
    with Logbook() as book:
        book.append(InstrumentDescribed("Heron", fed_by="output 2"), instrument=HERON, at=START)
        for year in range(3):
            day = datetime(2022 + year, 3, 1, 12, 0, tzinfo=UTC)
            found = 0.05 + 12 * 0.12 * (year > 0)
            for state, scale in ((SurveyState.AS_FOUND, found), (SurveyState.AS_LEFT, 0.05)):
                book.append(some_survey(state, scale), instrument=HERON, at=day)
                day += timedelta(hours=1)


def test_an_empty_logbook_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "log")
    assert code == 0
    assert out.startswith("The logbook is empty")
    assert run(capsys, "log", "due")[1] == "No instrument is in the logbook yet."


def test_a_wrong_path_makes_no_logbook(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    for command in ((), ("due",), ("check",), ("export", "x.jsonl"), ("history", "Heron")):
        code, _, err = run(capsys, "log", *command, "--logbook", "wrong.sqlite")
        assert code == 2, command
        assert "wrong.sqlite: There is no logbook here." in err
    assert list(tmp_path.iterdir()) == []
    assert run(capsys, "log", "note", "first", "--logbook", "new.sqlite")[0] == 0
    assert "note: first" in run(capsys, "log", "--logbook", "sqlite:///new.sqlite")[1]


@pytest.mark.usefixtures("years")
def test_what_was_done_when(capsys: pytest.CaptureFixture[str]) -> None:
    with Logbook() as book:
        book.append(ReadingsTaken((Heard("take.wav, channel 1", 0.0, 261.6256, 0.02),)))
        book.append(Started("guided trim", {}), run="a" * 32, instrument=HERON)
    _, out, _ = run(capsys, "log")
    days = [out.index(f", {year}-03-01 ") for year in (2022, 2023, 2024)]
    assert days == sorted(days)
    assert "Heron, described: oscillator; fed by output 2" in out
    assert "Heron, survey, as found: scale +1.49 ± 0.04 cents per octave" in out
    assert "within ±1 from C1 to C6" in out
    assert "reading: take.wav, channel 1 261.626 Hz" in out
    assert "Heron, guided trim: not ended." in out
    lines = read_json(capsys, "log", "--most", "3", "--instrument", "heron")["lines"]
    assert isinstance(lines, list)
    assert [line["what"] for line in lines] == [
        "survey, as found",
        "survey, as left",
        "guided trim",
    ]


@pytest.mark.usefixtures("years")
def test_one_instruments_years(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "log", "history", "heron")
    assert code == 0
    assert "Heron: 6 surveys" in out
    assert "+1.49 ± 0.04" in out
    assert "C1–C6 ±1" in out
    assert "Scale drifts by +0.120 ± 0.00" in out
    assert "over 2 intervals" in out
    assert "High end" not in out  # nothing of it was determined
    assert "Due: now (since 2024-05-" in out
    assert "Besides: 2022-03-01 described: oscillator; fed by output 2" in out
    content = read_json(capsys, "log", "history", "heron")
    surveys = content["surveys"]
    assert isinstance(surveys, list)
    assert len(surveys) == 6
    assert surveys[0]["high_cents_per_khz"] is None
    besides = content["besides"]
    assert isinstance(besides, list)
    assert [line["what"] for line in besides] == ["described"]
    code, out, _ = run(capsys, "log", "chart", "heron", "--out", "years.svg")
    assert code == 0
    assert "years.svg" in out
    assert "<svg" in Path("years.svg").read_text(encoding="utf-8")


@pytest.mark.usefixtures("years")
def test_what_has_changed_since_last_time(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "log", "changes", "Heron")
    found, left = out.split("From 2024-03-01")[0], out.split("From 2024-03-01")[1]
    # E_n by hand: 1.44 / root(0.04² + 0.04²) = 25.5.
    assert "(as left) to 2024-03-01 (as found)" in found
    assert "Scale changed by +1.44 cents per octave: more than the uncertainty" in found
    assert "(E_n = 25.5)" in found
    assert "Base changed by +0.00 cents: no more than the uncertainty" in found
    assert "Scale changed by −1.44" in left
    pairs = read_json(capsys, "log", "changes", "Heron")["pairs"]
    assert isinstance(pairs, list)
    assert len(pairs) == 2


@pytest.mark.usefixtures("years")
def test_who_is_due_and_who_is_unknown(capsys: pytest.CaptureFixture[str]) -> None:
    run(capsys, "log", "instrument", "Wren", "--what", "oscillator")
    _, out, _ = run(capsys, "log", "due")
    assert out.index("Heron: now") < out.index("Wren: unknown")
    assert "0 of at least 3 surveys so far" in out
    instruments = read_json(capsys, "log", "due", "--tolerance", "500")["instruments"]
    assert isinstance(instruments, list)
    assert str(instruments[0]["earliest"]) > "2024-06"
    assert run(capsys, "log", "due", "--tolerance", "0")[0] == 2


@pytest.mark.usefixtures("years")
def test_a_note_and_a_withdrawal(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "log", "note", "buzzes when cold", "--instrument", "Dunlin")
    assert code == 0
    assert "Dunlin, note: buzzes when cold" in run(capsys, "log")[1]
    history = read_json(capsys, "log", "history", "heron")["surveys"]
    assert isinstance(history, list)
    wrong = str(history[2]["uid"])
    code, out, _ = run(capsys, "log", "withdraw", wrong[:8], "--reason", "Wren was patched")
    assert (code, out.startswith("Withdrawn: survey recorded of 2023-03-01")) == (0, True)
    after = read_json(capsys, "log", "history", "heron")["surveys"]
    assert isinstance(after, list)
    assert len(after) == 5
    out = run(capsys, "log")[1]
    assert "survey, as found (withdrawn): scale +1.49" in out
    assert f"withdrawn: {wrong[:8]}: Wren was patched" in out
    for arguments, said in (
        (("withdraw", "abc", "--reason", "x"), "names no entry"),
        (("withdraw", "0" * 32, "--reason", "x"), "No entry begins"),
        (("withdraw", wrong, "--reason", " "), "needs a reason"),
        (("note", "  "), "The note is empty"),
        (("history", "Gull"), "No instrument is called “Gull”"),
    ):
        code, _, err = run(capsys, "log", *arguments)
        assert code == 2, arguments
        assert said in err, arguments


def test_withdrawing_a_beginning_gives_the_run_up(capsys: pytest.CaptureFixture[str]) -> None:
    with Logbook() as book:
        begun = book.append(Started("guided trim", {}), run="a" * 32)
    assert "guided trim: not ended." in run(capsys, "log")[1]
    run(capsys, "log", "withdraw", begun.uid, "--reason", "only a trial")
    assert "not ended" not in run(capsys, "log")[1]
    assert run(capsys, "log", "check")[0] == 0


@pytest.mark.usefixtures("years")
def test_a_withdrawn_trim_takes_its_surveys_with_it(capsys: pytest.CaptureFixture[str]) -> None:
    with Logbook() as book:
        trim = book.append(Started("guided trim", {}), run="b" * 32, instrument=HERON)
        of_trim = [
            book.append(some_survey(state, 9.0), run="b" * 32, instrument=HERON).uid
            for state in (SurveyState.AS_FOUND, SurveyState.AS_LEFT)
        ]
    before = read_json(capsys, "log", "history", "heron")["surveys"]
    code, out, _ = run(capsys, "log", "withdraw", trim.uid, "--reason", "it was Wren")
    assert code == 0
    assert "Its surveys are withdrawn with it" in out
    assert all(uid[:8] in out for uid in of_trim)
    after = read_json(capsys, "log", "history", "heron")["surveys"]
    assert isinstance(before, list)
    assert isinstance(after, list)
    assert [one for one in before if one["uid"] not in of_trim] == after
    assert len(after) == len(before) - 2
    assert "survey, as left (withdrawn): scale +9" in run(capsys, "log")[1]
    assert run(capsys, "log", "check")[0] == 0


@pytest.mark.usefixtures("years")
def test_how_often_it_was_surveyed(capsys: pytest.CaptureFixture[str]) -> None:
    assert "Surveyed 6 times, last on 2024-03-01." in run(capsys, "log", "instrument", "heron")[1]
    assert read_json(capsys, "log", "instrument", "heron")["surveys"] == 6


def test_who_an_instrument_is(capsys: pytest.CaptureFixture[str]) -> None:
    given = ("--what", "filter", "--fed-by", "output 3", "--trimmer", "R12: scale")
    code, out, _ = run(capsys, "log", "instrument", "Bittern", *given)
    assert code == 0
    assert "Bittern Filter; fed by output 3. R12 (scale): nothing learned yet." in out
    run(capsys, "log", "instrument", "bittern", "--rename", "Bittern the second")
    content = read_json(capsys, "log", "instrument", "Bittern the second")
    assert content["trimmers"] == [{"name": "R12", "kind": "scale"}]
    code, _, err = run(capsys, "log", "instrument", "x", "--trimmer", "R12")
    assert code == 2
    assert "does not name a trimmer" in err
    run(capsys, "log", "instrument", "Wren", "--what", "oscillator")
    code, _, err = run(capsys, "log", "instrument", "Wren", "--rename", "bittern THE second")
    assert code == 2
    assert "called “bittern THE second” already" in err


@pytest.mark.usefixtures("years")
def test_out_and_in_again(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert "7 entries in all.jsonl" in run(capsys, "log", "export", "all.jsonl")[1]
    new = ("--logbook", "other.sqlite")
    out = run(capsys, "log", "import", "all.jsonl", "all.jsonl", *new)[1]
    assert "7 entries new, 0 known already" in out
    assert "0 entries new, 7 known already" in out
    assert read_json(capsys, "log", "history", "heron", *new) == read_json(
        capsys, "log", "history", "heron"
    )
    assert "other.sqlite: all is well." in run(capsys, "log", "check", *new)[1]
    assert "Made again from 7 entries." in run(capsys, "log", "rebuild", *new)[1]
    code, out, _ = run(capsys, "log", "backup", *new)
    assert code == 0
    assert "was checked and is whole" in out
    assert len(list(tmp_path.glob("other-*.sqlite"))) == 1
    code, _, err = run(capsys, "log", "import", "other.sqlite", *new)
    assert code == 2
    assert "other.sqlite, line 1" in err


@pytest.mark.usefixtures("years")
def test_what_is_wrong_is_said_and_is_an_exit_code(capsys: pytest.CaptureFixture[str]) -> None:
    with Logbook() as book, book.writing() as connection:
        connection.exec_driver_sql("UPDATE survey SET base_cents = 99 WHERE state = 'as left'")
    code, out, _ = run(capsys, "log", "check")
    assert code == 2
    assert "The table “survey” is not what the entries say" in out
    run(capsys, "log", "rebuild")
    assert run(capsys, "log", "check")[0] == 0


HOSTILE = "=cmd|' /C calc'!A0\n\x1b[2J\u202eHéron “♯” '; DROP TABLE entry; --"


@pytest.mark.parametrize("name", [HOSTILE, HOSTILE * 200, "\x00", "@" * 10_000])
def test_any_name_is_shown_and_written_safely(
    capsys: pytest.CaptureFixture[str], name: str
) -> None:
    uid = instrument_uid(name)
    with Logbook() as book:
        book.append(InstrumentDescribed(name, fed_by=name), instrument=uid)
        book.append(some_survey(SurveyState.AS_FOUND, 1.0), instrument=uid)
    for arguments in (
        ("log",),
        ("log", "history", uid),
        ("log", "due"),
        ("log", "instrument", uid),
    ):
        code, out, _ = run(capsys, *arguments)
        assert code == 0
        assert "\x1b[2J" not in out
        assert "\u202e" not in out
        assert len(out) < 3000
    run(capsys, "log", "readings", "readings.csv")
    with Path("readings.csv").open(encoding="utf-8", newline="") as lines:
        rows = list(csv.reader(lines))
    assert len(rows) == 4
    # A spreadsheet runs a cell that begins with one of these (the OWASP page "CSV Injection",
    # from memory).
    assert not any(row[1].startswith(("=", "+", "-", "@", "\t", "\r")) for row in rows)
