"""The survey command on real files: a take whose truth is known, a table, and bad input."""

from __future__ import annotations

import io
import json
import re
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
import soundfile
from rich.console import Console

from pitchwright.cli import console, main
from pitchwright.cli.practising import rehearse
from pitchwright.units import note_name

KEYS = range(24, 85)
ROOT = Path(__file__).parents[2]
NOTES = "C1..C7 step 12"


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        main([str(argument) for argument in arguments])
    said = capsys.readouterr()
    assert isinstance(left.value.code, int)
    return left.value.code, said.out, said.err


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("take") / "take.wav"
    rehearse(path, notes=NOTES, only="Heron, Dunlin", hold_s=0.8)
    return path


def valid(text: str) -> dict[str, Any]:
    """The JSON, judged by the published schema with the jsonschema library."""
    content: dict[str, Any] = json.loads(text)
    schema = json.loads((ROOT / "docs/schema/survey.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.Draft202012Validator(schema).validate(content)
    return content


def test_a_take_is_surveyed_as_its_truth_says(
    take: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    csv = tmp_path / "curves.csv"
    code, out, err = run(
        capsys,
        *("survey", take, "--notes", NOTES, "--names", "Heron, Dunlin", "--json"),
        *("--csv", csv, "--sheet", tmp_path / "sheet.svg"),
    )
    assert (code, err) == (0, "")
    found = valid(out)["oscillators"]
    truth = json.loads(take.with_suffix(".truth.json").read_text(encoding="utf-8"))
    assert [one["name"] for one in found] == ["Heron", "Dunlin"]
    assert len(csv.read_text(encoding="utf-8").splitlines()) == 1 + 2 * 7
    for channel, one in enumerate(found, start=1):
        true_cents: dict[float, list[float]] = {}
        for note in truth["notes"]:
            if note["channel"] == channel:
                true_cents.setdefault(note["note"], []).append(note["cents"])
        for entry in one["curve"]:
            wanted = float(np.mean(true_cents[entry["midi_note"]]))
            assert abs(entry["cents"] - wanted) <= 4.0 * entry["u_cents"] + 0.02
        assert Path(one["sheet"]).read_text(encoding="utf-8").lstrip().startswith("<?xml")
    scale = found[0]["model"]
    true_scale = truth["oscillators"][0]["model"]["scale_cents_per_oct"]
    # Four standard uncertainties, because the source's own steps are one fixed draw.
    assert abs(scale["scale_cents_per_oct"] - true_scale) <= 4.0 * scale["u_scale_cents_per_oct"]


def test_what_a_person_reads(
    take: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    code, out, err = run(capsys, "survey", take, "--names", "Heron, Dunlin")
    assert (code, err) == (0, "")
    for wanted in ("base, cents at C4", "scale, cents per octave", "What to turn:", "reach within"):
        assert wanted in out
    names = {path.name for path in tmp_path.iterdir()}
    together = {"glance.svg", "over-each-other.svg"}
    assert names == {"heron-sheet.svg", "dunlin-sheet.svg"} | together
    run(capsys, "survey", take, "--names", "Heron, Dunlin")
    assert "heron-sheet-2.svg" in {path.name for path in tmp_path.iterdir()}


def test_following_another_makes_it_the_target(
    take: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    names = ("--names", "Heron, Dunlin")
    _, out, _ = run(capsys, "survey", take, *names, "--follow", "Dunlin", "--json", "--no-sheet")
    heron, dunlin = valid(out)["oscillators"]
    assert heron["target"] == "the curve of Dunlin"
    _, out, _ = run(capsys, "survey", take, *names, "--json", "--no-sheet")
    alone = valid(out)["oscillators"][0]
    for entry, before, leader in zip(heron["curve"], alone["curve"], dunlin["curve"], strict=True):
        assert entry["cents"] == pytest.approx(before["cents"] - leader["cents"], abs=0.1)


def test_a_table_is_surveyed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # Made by hand: 1 V/octave from C1, every octave wide by a factor 2^(6/1200).
    table = tmp_path / "wren.csv"
    rows = [f"{volt},{32.70319566 * 2 ** (volt * 1206 / 1200):.6f},0.05" for volt in range(7)]
    table.write_text("cv_v,f_hz,u_cents\n" + "\n".join(rows) + "\n")
    code, out, err = run(capsys, "survey", "--table", table, "--json", "--no-sheet")
    assert (code, err) == (0, "")
    (one,) = valid(out)["oscillators"]
    assert one["name"] == "wren"
    assert one["model"]["scale_cents_per_oct"] == pytest.approx(6.0, abs=0.01)
    assert one["sheet"] is None


def test_bad_input_is_one_sentence_and_writes_nothing(
    take: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    silent = tmp_path / "silent.wav"
    soundfile.write(silent, np.zeros((48000, 2)), 48000)
    kept = sorted(tmp_path.iterdir())
    for arguments, said in (
        (("survey",), "There is no bench file yet"),
        (("survey", "missing.wav"), "missing.wav"),
        (("survey", str(silent)), "silent"),
        (("survey", str(take), "--names", "Heron"), "1 name for 2 channels"),
        (("survey", str(take), "--notes", "H9"), "not a note"),
        (("survey", str(take), "--a4", "12"), "A4 at 12 Hz"),
        (("survey", str(take), "--tolerance", "-1"), "above zero"),
        (("survey", str(take), "--own", "--follow", "Heron"), "--own and --follow"),
        (("survey", str(take), "--follow", "Gull"), "no channel called “Gull”"),
        (("survey", str(take), "--csv", "no/where.csv"), "folder does not exist"),
        (("read", "missing.wav"), "missing.wav"),
        (("practice", "take", "out.wav", "--hold", "0"), "cannot be held"),
        (("practice", "take", "out.mp3"), "Use .wav, .flac or .aiff"),
        (("practice", "take", "out.wav", "--only", "Gull"), "no oscillator called Gull"),
    ):
        code, out, err = run(capsys, *arguments)
        assert code == 2, arguments
        assert out == "", arguments
        assert said in err, arguments
        assert len(err.strip().splitlines()) == 1, arguments
        assert sorted(tmp_path.iterdir()) == kept, arguments


def test_read_gives_a_row_for_each_channel(
    take: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tone = tmp_path / "tone.wav"
    t = np.arange(2 * 48000) / 48000
    soundfile.write(tone, 0.4 * np.sin(2 * np.pi * 440.0 * t), 48000, subtype="PCM_24")
    csv = tmp_path / "readings.csv"
    code, out, err = run(capsys, "read", tone, "--csv", csv)
    assert (code, err) == (0, "")
    assert "A4" in out
    lines = csv.read_text(encoding="utf-8").splitlines()
    assert lines[0] == "file,channel,f_hz,u_cents,level_dbfs,periods,flags"
    assert float(lines[1].split(",")[2]) == pytest.approx(440.0, abs=1e-4)
    _, out, _ = run(capsys, "read", tone, "--json")
    (reading,) = json.loads(out)["readings"]
    assert reading["channel"] == 1
    assert reading["flags"] == []


@pytest.mark.parametrize(("rows", "said"), [(1, "Only one note"), (2, "Only two notes")])
def test_one_or_two_notes_are_no_survey(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], rows: int, said: str
) -> None:
    table = tmp_path / "few.csv"
    lines = ["cv_v,f_hz", "1,65.41", "3,261.9"][: rows + 1]
    table.write_text("\n".join(lines) + "\n")
    code, out, err = run(capsys, "survey", "--table", table, "--no-sheet")
    assert (code, out) == (2, "")
    assert said in err
    assert "pitchwright read" in err


def test_a_take_of_one_tone_is_no_survey(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tone = tmp_path / "tone.wav"
    t = np.arange(2 * 48000) / 48000
    soundfile.write(tone, 0.4 * np.sin(2 * np.pi * 440.0 * t), 48000, subtype="PCM_24")
    code, out, err = run(capsys, "survey", tone, "--no-sheet")
    assert (code, out) == (2, "")
    assert "Only one note was read (A4)" in err


@pytest.mark.parametrize("columns", [40, 80, 120])
def test_every_figure_stands_beside_its_own_note(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    columns: int,
) -> None:
    """61 notes: at equal temperament each prints its own frequency (440 · 2^((n − 69) / 12))."""
    out = Console(highlight=False, width=columns, file=io.StringIO(), record=True)
    monkeypatch.setattr(console, "_out", out)
    table = tmp_path / "keys.csv"
    rows = [f"{(n - 24) / 12.0:.6f},{440.0 * 2.0 ** ((n - 69) / 12.0):.6f},0.05" for n in KEYS]
    table.write_text("cv_v,f_hz,u_cents\n" + "\n".join(rows) + "\n", encoding="utf-8")
    assert run(capsys, "survey", "--table", table, "--no-sheet")[0] == 0
    printed = out.export_text()
    for n in KEYS:
        hertz = f"{440.0 * 2.0 ** ((n - 69) / 12.0):.3f}"
        assert re.search(rf"(?<!\S){re.escape(note_name(n))} +{re.escape(hertz)}(?!\d)", printed)


def test_a_curve_is_drawn_in_the_terminal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    table = tmp_path / "t.csv"
    table.write_text("note,f_hz\nC2,65.5\nC3,131\nC4,261.9\nC5,523.9\nC6,1048\n", encoding="utf-8")
    plain, drawn = (
        run(capsys, "survey", "--table", table, "--no-sheet", *more)[1]
        for more in ((), ("--plot",))
    )
    assert not set("▀▄") & set(plain)
    assert set("▀▄") & set(drawn)
