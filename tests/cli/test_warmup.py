"""``pitchwright warmup`` on tables, recordings and the practice rig."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import numpy as np
import pytest
import soundfile as sf

from pitchwright.cli import main
from pitchwright.logbook.store import Logbook, practice_url
from pitchwright.upkeep.diary import diary

ROOT = Path(__file__).parents[2]


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        main(["warmup", *arguments])
    said = capsys.readouterr()
    assert isinstance(left.value.code, int)
    return left.value.code, " ".join(said.out.split()), " ".join(said.err.split())


@pytest.fixture
def history(tmp_path: Path) -> Path:
    rng = np.random.default_rng(3)
    t_s = np.arange(0.0, 1500.0, 10.0)
    heron = 25.0 * np.exp(-t_s / 900.0) + 0.03 * rng.standard_normal(t_s.size)
    wren = 0.05 * rng.standard_normal(t_s.size)
    lines = [f"{t:.0f},{h:.4f},{w:.4f}" for t, h, w in zip(t_s, heron, wren, strict=True)]
    file = tmp_path / "history.csv"
    file.write_text("\n".join(["t_s,Heron cents,Wren cents", *lines]))
    return file


def test_a_table(capsys: pytest.CaptureFixture[str], history: Path, tmp_path: Path) -> None:
    code, out, err = run(capsys, str(history), "--chart", str(tmp_path))
    assert (code, err) == (0, "")
    assert "Heron Ready in about " in out
    assert "Wren Ready." in out
    assert "Average a reading over about" in out
    assert sorted(file.name for file in tmp_path.glob("*.svg")) == [
        "heron-warm-up.svg",
        "wren-warm-up.svg",
    ]


def test_json_and_no_chart(
    capsys: pytest.CaptureFixture[str], history: Path, tmp_path: Path
) -> None:
    code, out, _ = run(capsys, str(history), "--json", "--no-chart", "--only", "heron")
    record = json.loads(out)
    assert code == 0
    assert record["schema"] == "pitchwright warm-up 1"
    (heron,) = record["oscillators"]
    assert heron["readiness"] == "warming up"
    assert heron["ready_in_low_s"] < heron["ready_in_s"] < heron["ready_in_high_s"]
    assert heron["cents_per_k"] is None
    assert heron["steadiness"]["tau_s"][0] == 10.0
    assert not list(tmp_path.glob("*.svg"))


def test_two_notes_in_turn(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    t_s = np.arange(0.0, 2400.0, 5.0)
    rng = np.random.default_rng(5)
    high = np.arange(t_s.size) % 2 == 1
    room_c = 22.0 + np.sin(t_s / 400.0)
    cents = np.where(high, 5.0, 0.0) * -4.0 * (room_c - 22.0) + 0.05 * rng.standard_normal(t_s.size)
    rows = [
        f"{t},{'C6' if up else 'C1'},{c:.4f},{room:.3f}"
        for t, up, c, room in zip(t_s, high, cents, room_c, strict=True)
    ]
    file = tmp_path / "two.csv"
    file.write_text("\n".join(["t_s,note,Heron cents,temperature_c", *rows]))
    code, out, _ = run(capsys, str(file), "--no-chart")
    assert code == 0
    assert "Heron at C1" in out
    assert "Heron at C6" in out
    assert "A kelvin moves the scale by −4.0" in out
    code, out, _ = run(capsys, str(file), "--no-chart", "--json")
    (both,) = json.loads(out)["base_and_scale"]
    assert both["temperature"]["scale"]["per_k"] == pytest.approx(-4.0, abs=0.1)


def test_the_practice_rig_says_that_it_is_invented(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    chart = tmp_path / "there.svg"
    table = tmp_path / "readings.csv"
    code, out, err = run(
        capsys,
        *("--practice", "--longest", "20", "--every", "20", "--only", "Wren"),
        *("--chart", str(chart), "--csv", str(table)),
    )
    assert code == 0
    assert out.startswith("Wren ")
    assert "invented" in err
    assert "Invented data." in chart.read_text()
    # It is written down, but never among what was really measured.
    assert "-practice.sqlite" in err
    with Logbook(practice_url()) as logbook:
        lines = diary(logbook)
    (watched,) = [line for line in lines if line.what == "warm-up watch"]
    assert watched.instrument == "Wren"
    assert watched.words
    # What was watched can be read again, and says the same.
    code, again, _ = run(capsys, str(table), "--chart", str(chart))
    assert code == 0
    assert again == out


def test_the_practice_rig_is_watched_until_all_are_ready(
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, out, err = run(
        capsys, "--practice", "--every", "30", "--only", "Heron, Plover", "--no-chart"
    )
    assert code == 0
    assert "Heron Ready." in out
    assert "Plover Ready." in out
    # Said once each, and not before something is known.
    assert err.count("Heron: Ready.") == 1
    assert "Too early" not in err


@pytest.mark.parametrize(
    "more", [["--notes", "C2, C6"], ["--no-chart"], ["--longest", "2"], ["--notes", "C4"]]
)
def test_the_json_is_what_its_schema_says(
    more: list[str], capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Judged by the published schema with the jsonschema library."""
    schema = json.loads((ROOT / "docs/schema/warm-up.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    code, out, _ = run(
        capsys,
        *("--practice", "--longest", "15", "--every", "20", "--only", "Heron", "--json"),
        *("--chart", str(tmp_path)),
        *more,
    )
    assert code == 0
    jsonschema.Draft202012Validator(schema).validate(json.loads(out))


def test_two_notes_of_the_practice_rig(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(
        capsys,
        *("--practice", "--longest", "20", "--every", "20", "--only", "Dunlin", "--no-chart"),
        *("--notes", "C2, C6"),
    )
    assert code == 0
    assert "Dunlin at C6" in out
    assert "cents per octave" in out


def test_a_recording(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    rate = 22050
    t_s = np.arange(rate * 240) / rate
    cents = 20.0 * np.exp(-t_s / 120.0)
    phase = 2.0 * np.pi * np.cumsum(261.0 * np.exp2(cents / 1200.0)) / rate
    sound = 0.5 * np.column_stack([np.sin(phase), np.zeros(t_s.size)])
    file = tmp_path / "held.wav"
    sf.write(file, sound, rate, subtype="PCM_16")
    code, out, err = run(capsys, str(file), "--names", "Heron, Wren", "--no-chart", "--json")
    assert code == 0
    assert err == ""
    record = json.loads(out)
    assert [one["name"] for one in record["oscillators"]] == ["Heron"]
    assert record["remarks"] == ["Wren: no steady note was heard, so it is left out."]
    assert record["oscillators"][0]["watched_s"] == pytest.approx(230.0, abs=10.0)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "There is no bench file yet"),
        (["x.csv", "--practice"], "A file and --practice both."),
        (["nowhere.csv"], "nowhere.csv: There is no such file."),
        (["nowhere.wav"], "nowhere.wav: There is no such file."),
        (["--practice", "--longest", "0"], "Watching for 0 minutes every 10 s cannot be."),
        (["--practice", "--longest", "5", "--tolerance", "0"], "must be more than zero"),
        (
            ["--practice", "--longest", "5", "--only", "Robin"],
            "There is no oscillator called Robin.",
        ),
        (["--practice", "--longest", "5", "--a4", "20"], "A4 at 20 Hz is outside"),
    ],
)
def test_what_cannot_be_done(
    capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    code, out, err = run(capsys, *arguments)
    assert (code, out) == (2, "")
    assert said in err
