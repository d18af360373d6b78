"""What the commands write down without being asked, and what they say about it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from pitchwright.bench.practice import PracticeBench
from pitchwright.bench.runner import run as run_on
from pitchwright.cli import console, main, recorded
from pitchwright.cli.practising import rehearse
from pitchwright.errors import InputError
from pitchwright.logbook.care import check
from pitchwright.logbook.facts import SurveyRecorded
from pitchwright.logbook.history import find_instrument, history, instruments
from pitchwright.logbook.store import Logbook, practice_url
from pitchwright.practice.hands import Hand
from pitchwright.practice.scenario import theatre_rig
from pitchwright.procedures.events import Event
from pitchwright.procedures.survey import SurveySettings, order, survey
from pitchwright.units import note_to_hz
from pitchwright.upkeep import stopped_trims
from pitchwright.upkeep.diary import diary


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        main([str(argument) for argument in arguments])
    said = capsys.readouterr()
    assert isinstance(left.value.code, int)
    return left.value.code, said.out, said.err


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "heron.csv"
    rng = np.random.default_rng(5)
    rows = [
        f"{note},{note_to_hz(note) * 2 ** (rng.normal(0, 0.02) / 1200):.6f}"
        for note in range(24, 97, 6)
    ]
    path.write_text("\n".join(["note,f_hz", *rows]) + "\n")
    return path


def test_a_survey_is_in_the_logbook_without_being_asked_for(
    table: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = run(
        capsys,
        *("survey", "--table", table, "--no-sheet", "--names", "Heron", "--state", "found"),
        *(
            "--temperature",
            "20.5",
            "--minutes-on",
            "90",
            "--source",
            "Loft",
            "--when",
            "2024-03-01",
        ),
    )
    assert (code, err) == (0, "")
    assert "Written down in the logbook" in " ".join(out.split())
    with Logbook() as logbook:
        uid = find_instrument(logbook, "Heron").uid
        (row,) = history(logbook, uid)
        (entry,) = logbook.entries(kinds=(SurveyRecorded.kind,))
        assert check(logbook) == ()
    assert (row.state.value, row.temperature_c, row.tolerance_cents) == ("as found", 20.5, 1.0)
    assert row.at_utc[:10] in ("2024-02-29", "2024-03-01")
    assert isinstance(entry.what, SurveyRecorded)
    assert entry.what.conditions.source == "Loft"
    assert entry.what.conditions.reference == "the instruments that made the table"
    assert len(entry.what.points) == 13


def test_the_same_table_again_is_the_same_survey(
    table: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for _ in range(2):
        run(capsys, "survey", "--table", table, "--no-sheet")
    run(capsys, "survey", "--table", table, "--no-sheet", "--state", "left")
    with Logbook() as logbook:
        (known,) = instruments(logbook)
    assert (known.name, known.surveys) == ("heron", 2)


def test_json_stays_json(table: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, out, err = run(capsys, "survey", "--table", table, "--no-sheet", "--json")
    assert out.startswith("{")
    assert out.rstrip().endswith("}")
    assert err == ""


def test_a_survey_that_cannot_be_written_down_is_shown_all_the_same(
    table: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = run(
        capsys, "survey", "--table", table, "--no-sheet", "--logbook", table.as_posix()
    )
    assert code == 0
    assert "within ±1 cent" in out
    assert "not a logbook" in err
    (aside,) = tmp_path.glob("logbook-aside-*.jsonl")
    assert f"pitchwright log import {aside.name}" in " ".join(err.split())


def test_none_writes_nothing(
    table: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, out, _ = run(capsys, "survey", "--table", table, "--no-sheet", "--logbook", "none")
    assert "ritten down" not in out
    assert [path.name for path in tmp_path.iterdir()] == ["heron.csv"]


def test_a_take_of_the_practice_rig_goes_to_the_practice_logbook(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    take = tmp_path / "take.wav"
    rehearse(take, notes="C2..C6 step 12", only="Heron, Wren")
    _, out, _ = run(capsys, "survey", take, "--no-sheet", "--notes", "C2..C6 step 12")
    assert "in a logbook of its own" in " ".join(out.split())
    with Logbook(practice_url()) as logbook:
        names = [known.name for known in instruments(logbook)]
        (first, _) = logbook.entries(kinds=(SurveyRecorded.kind,))
    assert names == ["take, channel 1", "take, channel 2"]  # they were not named
    assert isinstance(first.what, SurveyRecorded)
    assert first.what.invented
    assert first.what.clock_ppm == 50.0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--state", "lost"), "Say found, left or check"),
        (("--when", "yesterday"), "is not a date"),
        (("--when", "2999-01-01"), "yet to come"),
        (("--temperature", "400"), "400 degrees"),
        (("--minutes-on", "-5"), "-5 minutes"),
    ],
)
def test_what_cannot_be_is_refused_before_anything_is_measured(
    table: Path, capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], said: str
) -> None:
    code, _, err = run(capsys, "survey", "--table", table, *arguments)
    assert code == 2
    assert said in err
    with pytest.raises(InputError):
        find_instrument(Logbook(), "heron")


def stop_at(number: int, monkeypatch: pytest.MonkeyPatch) -> None:
    watch, watched = PracticeBench.watch, iter(range(number + 1))

    def stopping(self: PracticeBench, *given: object) -> object:
        if next(watched, number) == number:
            raise KeyboardInterrupt
        return watch(self, *given)  # type: ignore[arg-type]

    monkeypatch.setattr(PracticeBench, "watch", stopping)


def test_a_stopped_trim_is_offered_and_goes_on(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        stop_at(1, patch)
        code, _, err = run(capsys, "trim", "Heron", "--hand")
        assert (code, err.strip()) == (130, "Stopped; what was finished before is kept.")
    code, out, err = run(capsys, "trim", "Heron", "--hand", "--resume")
    assert (code, err) == (0, "")
    assert "As found" not in out
    assert "Heron: in tune" in out
    with Logbook(practice_url()) as logbook:
        assert stopped_trims(logbook) == ()
        uid = find_instrument(logbook, "Heron").uid
        rows = history(logbook, uid)
        assert check(logbook) == ()
    assert [row.state.value for row in rows] == ["as found", "as left"]
    assert rows[0].run == rows[1].run
    code, _, err = run(capsys, "trim", "Heron", "--hand", "--resume")
    assert code == 2
    assert "no unfinished trim of Heron" in err


def test_without_a_person_it_is_said_how(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        stop_at(0, patch)
        run(capsys, "trim", "Heron", "--hand")
    _, out, err = run(capsys, "trim", "Heron", "--hand")
    assert "An unfinished trim of Heron from" in err
    assert "--resume goes on with it" in " ".join(err.split())
    assert "As found" in out
    run(capsys, "trim", "Heron", "--hand", "--afresh")
    with Logbook(practice_url()) as logbook:
        assert stopped_trims(logbook) == ()


@pytest.mark.parametrize(("answer", "goes_on"), [("", True), ("Y", True), ("n", False)])
def test_a_person_chooses(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    answer: str,
    goes_on: bool,
) -> None:
    with monkeypatch.context() as patch:
        stop_at(0, patch)
        run(capsys, "trim", "Heron", "--hand")
    asked: list[str] = []
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    reply: Callable[[str], str] = lambda question: asked.append(question) or answer  # type: ignore[func-returns-value]  # noqa: E731
    monkeypatch.setattr(console, "ask", reply)
    with recorded.recorder("", practice=True) as written:
        stopped = recorded.go_on_with(written, "Heron", resume=False, afresh=False)
        assert written.logbook is not None
        left = len(stopped_trims(written.logbook))
    assert asked[0].startswith("An unfinished trim of Heron from ")
    assert asked[0].endswith(": go on? [Y/n] ")
    assert (stopped is not None, left) == (goes_on, int(goes_on))


def test_a_stopped_survey_is_offered_and_goes_on(tmp_path: Path) -> None:
    rig = theatre_rig()
    (voice,) = rig.only("Wren").voices
    rng = np.random.default_rng(1)
    wanted = SurveySettings(("Wren",), (24.0, 36.0, 48.0, 60.0, 72.0))

    def stop(event: Event) -> None:
        if event.number > 12:
            raise KeyboardInterrupt

    with recorded.recorder(str(tmp_path / "logbook.sqlite")) as written:
        bench = PracticeBench(voice.oscillator, rig.source("Loft"), Hand(rng), rng)
        told = (written.follow(["Wren"]), stop)
        with pytest.raises(KeyboardInterrupt):
            run_on(survey(wanted), bench, told, name="survey", settings=wanted)
        assert recorded.go_on_with_survey(written, ["Heron"], resume=False, afresh=False) is None
        stopped = recorded.go_on_with_survey(written, ["Wren"], resume=True, afresh=False)
        assert stopped is not None
        assert stopped.settings == wanted
        bench.t_s = stopped.events[-1].t_s
        told_again = (written.follow(["Wren"], run=stopped.run),)
        points = run_on(
            survey(stopped.settings),
            bench,
            told_again,
            name="survey",
            settings=stopped.settings,
            earlier=stopped.events,
        )
        assert {point.note for point in points["Wren"]} == set(wanted.notes)
        assert written.logbook is not None
        kinds = [e.what.kind for e in written.logbook.entries(run=stopped.run)]
        assert kinds.count("note played") == len(order(wanted))  # none in vain
        assert kinds[-2:] == ["survey recorded", "closed"]
        with pytest.raises(InputError, match="no unfinished survey of Wren"):
            recorded.go_on_with_survey(written, ["Wren"], resume=True, afresh=False)


def test_a_reading_and_a_warm_up_from_files_are_written_down(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    t_s = np.arange(0.0, 1.0, 1 / 48000)
    soundfile.write(tmp_path / "tone.wav", 0.3 * np.sin(2 * np.pi * 440.0 * t_s), 48000)
    assert run(capsys, "read", tmp_path / "tone.wav")[0] == 0
    rows = [f"{t},{12.0 * 2.718 ** (-t / 300.0):.4f}" for t in range(0, 2400, 10)]
    history = tmp_path / "warm.csv"
    history.write_text("\n".join(["t_s,Heron cents", *rows]) + "\n")
    assert run(capsys, "warmup", history, "--no-chart")[0] == 0
    with Logbook() as logbook:
        kinds = [entry.what.kind for entry in logbook.entries()]
        lines = diary(logbook)
        assert check(logbook) == ()
    assert kinds == ["readings taken", "instrument described", "forecast made"]
    assert lines[0].words.startswith("tone.wav, channel 1 440.00")
    assert (lines[2].instrument, lines[2].what) == ("Heron", "warm-up")
