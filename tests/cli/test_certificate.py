"""``certificate`` and ``label`` in the terminal: from a logbook to paper, or one sentence."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pitchwright.cli import main
from pitchwright.logbook.facts import InstrumentDescribed, SurveyRecorded
from pitchwright.logbook.store import Logbook, new_uid
from pitchwright.procedures.circumstances import SurveyState
from pitchwright.tracking import Point, TargetCurve
from pitchwright.units import note_to_hz


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        main([str(argument) for argument in arguments])
    said = capsys.readouterr()
    assert isinstance(left.value.code, int)
    return left.value.code, " ".join(said.out.split()), said.err


@pytest.fixture
def logbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """Two instruments, surveyed once each; the working directory is empty."""
    path = str(tmp_path / "logbook.sqlite")
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    at = datetime(2026, 11, 20, 12, 0, tzinfo=UTC)
    points = tuple(
        Point(n, (n - 24) / 12, note_to_hz(n) * 1.0001, 0.02, float(n)) for n in range(24, 85, 12)
    )
    with Logbook(path, bench="loft") as book:
        for name in ("Heron", "Wren & Söhne"):
            uid = new_uid()
            book.append(InstrumentDescribed(name, fed_by="output 2"), instrument=uid, at=at)
            recorded = SurveyRecorded(SurveyState.AS_LEFT, points, target=TargetCurve.flat())
            book.append(recorded, instrument=uid, at=at)
    return path


def test_a_certificate_is_written_beside_the_caller(
    logbook: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = run(capsys, "certificate", "heron", "--logbook", logbook)
    assert (code, err) == (0, "")
    assert "As left, every one of the 6 notes measured from C1 to C6 is within ±1 cent." in out
    assert Path("heron-certificate.pdf").read_bytes().startswith(b"%PDF")
    run(capsys, "certificate", "heron", "--logbook", logbook)
    assert Path("heron-certificate-2.pdf").exists()


def test_json_and_a_named_file(logbook: str, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(
        capsys, "certificate", "Heron", "--logbook", logbook, "--json", "--date", "2026-11-25",
        "--tolerance", "0.1",
    )  # fmt: skip
    record = json.loads(out)
    assert code == 0
    assert (record["dated"], record["tolerance_cents"]) == ("2026-11-25", 0.1)
    assert list(Path().iterdir()) == []
    run(capsys, "certificate", "Heron", "--logbook", logbook, "--json", "--out", "a.pdf")
    assert [path.name for path in Path().iterdir()] == ["a.pdf"]


def test_labels_one_by_one_and_all_on_a_sheet(
    logbook: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert (
        "1 label written: wren-söhne-label.pdf"
        in run(capsys, "label", "Wren & Söhne", "--logbook", logbook)[1]
    )
    code, out, _ = run(
        capsys, "label", "--all", "--sheet", "letter", "--size", "62 x 29 mm", "--logbook", logbook
    )
    assert (code, out) == (0, "2 labels written: labels.pdf")
    assert Path("labels.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("certificate", "Nobody"), "No instrument is called “Nobody”."),
        (("certificate", "Heron", "--date", "yesterday"), "“yesterday” is not a date."),
        (("certificate", "Heron", "--date", "2020-01-01"), "no survey up to 2020-01-01"),
        (("certificate", "Heron", "--paper", "a3"), "There is no paper “a3” here."),
        (("certificate", "Heron", "--tolerance", "-1"), "A tolerance cannot be -1 cents."),
        (("certificate", "Heron", "--out", "no/such.pdf"), "The folder does not exist."),
        (("label",), "Name instruments, or say --all."),
        (("label", "Heron", "--all"), "Name instruments, or say --all."),
        (("label", "Heron", "--size", "big"), "“big” is not a size."),
        (("label", "Heron", "--size", "1x1"), "cannot be read or printed."),
    ],
)
def test_what_cannot_be_is_one_sentence(
    logbook: str, capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], said: str
) -> None:
    code, out, err = run(capsys, *arguments, "--logbook", logbook)
    assert (code, out) == (2, "")
    assert said in err
    assert len(err.strip().splitlines()) == 1
    assert list(Path().iterdir()) == []
