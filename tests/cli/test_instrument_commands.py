"""Route, ensemble, detune and corrections from the command line, on written tables."""

import json
import re
from pathlib import Path
from typing import Any

import pytest

from pitchwright.cli import main
from pitchwright.logbook.store import Logbook, practice_url
from pitchwright.units import cv_of_note, note_to_hz, ratio_of_cents

ROUTE = """
[source.Loft]
output_ohm = 1000
[multiple.split]
kind = "passive"
from = "Loft"
[oscillator.Heron]
from = "split"
input_ohm = 100000
[oscillator.Wren]
from = "split"
input_ohm = 100000
"""
INSTRUMENT = """
name = "a pit"
invented = true
[[survey]]
source = "Loft"
oscillator = "Heron"
table = "heron.csv"
[[survey]]
source = "Loft"
oscillator = "Wren"
table = "wren.csv"
[source.Loft]
straight = true
[meter]
u_gain_percent = 0.05
[[voltage]]
source = "Loft"
note = "C1"
cv_v = 0.0
[[voltage]]
source = "Loft"
note = "C6"
cv_v = 5.0
[output.one]
low_cents_per_oct = -20.0
high_cents_per_oct = 20.0
[trimmer.Wren]
low_cents_per_oct = -2.0
high_cents_per_oct = 2.0
"""


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        main(list(arguments))
    printed = capsys.readouterr()
    return int(left.value.code or 0), " ".join(printed.out.split()), printed.err


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, scale in (("heron", 8.0), ("wren", -3.0)):
        rows = [
            f"{n},{note_to_hz(n) * ratio_of_cents(scale * (cv_of_note(n) - 3.0)):.6f},0.02"
            for n in range(24, 85, 6)
        ]
        (tmp_path / f"{name}.csv").write_text("\n".join(["note,f_hz,u_cents", *rows]))
    (tmp_path / "route.toml").write_text(ROUTE)
    (tmp_path / "pit.toml").write_text(INSTRUMENT)
    return tmp_path


def test_route(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file, table = str(folder / "route.toml"), folder / "out.csv"
    code, out, _ = run(capsys, "route", file, "--csv", str(table))
    assert code == 0
    assert "Heron's cable pulled: Wren becomes up to 11.88 cents sharper per octave" in out
    assert "−23.53" in out
    assert len(table.read_text().splitlines()) == 1 + 2 * 7
    code, out, _ = run(capsys, "route", file, "--json")
    assert json.loads(out)["deliveries"][0]["gain"] == pytest.approx(1 / 1.02)


def test_a_route_file_to_begin_with(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(["route", "--example"])
    assert not left.value.code
    file = tmp_path / "mine.toml"
    file.write_text(capsys.readouterr().out, encoding="utf-8")
    code, out, _ = run(capsys, "route", str(file))
    assert code == 0
    assert "Loft's splitter (invented)" in out
    assert "Heron and Wren each get" in out
    code, _, err = run(capsys, "route")
    assert code == 2
    assert "--example shows how to write one" in err


def test_an_instrument_file_to_begin_with(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(["ensemble", "--example"])
    assert not left.value.code
    shown = capsys.readouterr().out
    whole = re.sub(r"^# (?=\[|[a-z_]+ = )", "", shown, flags=re.MULTILINE)
    whole = whole.replace("stairs.wav", "no such take.wav")
    for text, wanted in ((shown, "the pit instrument (invented)"), (whole, "no such take.wav")):
        (folder / "mine.toml").write_text(text, encoding="utf-8")
        _, out, err = run(capsys, "ensemble", str(folder / "mine.toml"))
        assert wanted in out + err  # the whole of it is understood, up to the recording


def kept(kind: str, url: str = "") -> list[Any]:
    with Logbook(url) as logbook:
        return [entry.what for entry in logbook.entries(kinds=(kind,))]


def test_what_is_worked_out_is_written_down(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    route, heron, wren = (str(folder / name) for name in ("route.toml", "heron.csv", "wren.csv"))
    _, out, _ = run(capsys, "route", route)
    assert "Written down in the logbook" in out
    assert [what.deliveries[0].oscillator for what in kept("route solved")] == ["Heron"]

    run(capsys, "detune", "--cents", "3")  # for nobody
    assert kept("detune planned") == []
    today = ("--today", heron, "--today", wren)
    run(capsys, "detune", "--beats", "0.5", "--names", "Heron,Wren", *today)
    (planned,) = kept("detune planned")
    assert [voice.name for voice in planned.plan.voices] == ["Heron", "Wren"]
    assert [one.pair for one in planned.today] == ["Heron and Wren"]

    correct = ("correct", heron, "--name", "Heron")
    _, out, _ = run(capsys, *correct)
    assert "Nothing was written or sent" in out
    run(capsys, *correct, "--syx", str(folder / "h.syx"), "--logbook", "none")
    assert kept("corrections made") == []
    run(capsys, *correct, "--syx", str(folder / "h.syx"))
    assert [what.oscillator for what in kept("corrections made")] == ["Heron"]


def test_what_is_invented_stays_out_of_the_real_logbook(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "invented.toml").write_text("invented = true\n" + ROUTE)
    book = str(folder / "book.sqlite")
    _, out, _ = run(capsys, "route", str(folder / "invented.toml"), "--logbook", book)
    assert "Practice is written down in a logbook of its own" in out
    assert kept("route solved", book) == []
    assert len(kept("route solved", practice_url(book))) == 1
    _, out, _ = run(capsys, "route", str(folder / "invented.toml"), "--json", "--logbook", book)
    assert json.loads(out)["deliveries"]


def test_ensemble(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "ensemble", str(folder / "pit.toml"))
    assert code == 0
    assert "a pit (invented)" in out
    assert "Heron's own scale is 8.0 ± 1.4 cents per octave sharp." in out
    assert "Heron from output one, −8.00 cents per octave on one" in out
    (seen,) = kept("ensemble seen", practice_url())
    assert seen.oscillators == ("Heron", "Wren")
    assert seen.sources == ("Loft",)
    code, out, _ = run(capsys, "ensemble", str(folder / "pit.toml"), "--json")
    record = json.loads(out)
    assert record["glance"]["leader"] == "Wren"
    assert record["extra"] == []


def test_detune(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(
        capsys,
        *("detune", "--beats", "0.5", "--csv", str(folder / "d.csv"), "--names", "Heron,Wren"),
        *("--today", str(folder / "heron.csv"), "--today", str(folder / "wren.csv")),
    )
    assert code == 0
    assert "a ratio of 1.66" in out
    assert "farthest from the plan at" in out
    assert len((folder / "d.csv").read_text().splitlines()) == 38
    for wrong in (
        ["--beats", "50"],
        ["--cents", "3", "--beats", "1"],
        ["--at", "C2=1"],
        ["--at", "C2=x", "--at", "C3=1"],
        ["--cents", "3", "--interval", "fifth"],
        ["--cents", "3", "--today", str(folder / "heron.csv")],
    ):
        code, _, err = run(capsys, "detune", *wrong)
        assert code == 2
        assert len(err.splitlines()) == 1


def test_correct(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    files = [folder / f"h.{kind}" for kind in ("csv", "syx", "mid")]
    code, out, _ = run(
        capsys,
        *("correct", str(folder / "heron.csv"), "--name", "Heron"),
        *(part for file in files for part in (f"--{file.suffix[1:]}", str(file))),
    )
    assert code == 0
    assert "60 notes are corrected" in out
    assert len(files[1].read_bytes()) == 408
    assert files[2].read_bytes().startswith(b"MThd")
    code, _, err = run(capsys, "correct", str(folder / "heron.csv"), "--wander", "90")
    assert code == 2
    assert "gain nothing" in err
    code, _, err = run(
        capsys, "correct", str(folder / "heron.csv"), "--syx", str(folder / "no" / "x.syx")
    )
    assert code == 2
    assert "folder does not exist" in err


def test_ensemble_on_the_practice_rig(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["--practice", "--only", "Heron, Wren, Plover", "--notes", "C2..C6 step 12"]
    code, out, err = run(capsys, "ensemble", *arguments)
    assert code == 0
    assert "The practice rig (invented)" in out
    assert "Heron and Wren" in out
    assert "Differences between sources are known" in out
    assert "Loft, C4: fastest beat Heron and Wren" in err
    code, out, _ = run(capsys, "ensemble", *arguments, "--sources", "Loft", "--json")
    record = json.loads(out)
    assert code == 0
    assert record["whose"]["sources"] == ["Loft"]
    assert {feed["oscillator"]: feed["output"] for feed in record["feeds"]} == {
        "Heron": "",
        "Wren": "",
        "Plover": "Plover's own",
    }


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "There is no bench file yet"),
        (["pit.toml", "--practice"], "A file and --practice both"),
        (["--practice", "--only", "Heron"], "One oscillator is no ensemble"),
        (["--practice", "--only", "Heron, Robin"], "no oscillator called Robin"),
        (["--practice", "--sources", "Attic"], "no source called Attic"),
        (["--practice", "--notes", "C4"], "One note is no check"),
    ],
)
def test_an_ensemble_that_cannot_be(
    capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    code, out, err = run(capsys, "ensemble", *arguments)
    assert (code, out) == (2, "")
    assert said in err


def test_a_plan_is_what_a_trim_goes_by(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Heron is trimmed to a plan that counts from where the leader is, and lands there."""
    plan = folder / "plan.csv"
    arguments = ["--cents", "6", "--names", "Wren,Heron", "--csv", str(plan)]
    arguments += ["--low", "C2", "--high", "C5"]
    today = ["--today", str(folder / "wren.csv"), "--today", str(folder / "heron.csv")]
    code, out, _ = run(capsys, "detune", *arguments, *today, "--as-leader-is")
    assert code == 0
    assert f"Written: {plan}" in out
    first = plan.read_text().splitlines()[1].split(",")
    # Wren is 3 cents per octave flat about C4 in its table: at C2, two octaves below, +6.
    assert [round(float(cell), 2) for cell in first[1:3]] == [6.0, 12.0]
    code, out, _ = run(
        capsys,
        *("trim", "Heron", "--hand", "--target", str(plan), "--low", "C2", "--high", "C5"),
        *("--logbook", "none"),
    )
    assert code == 0
    assert "Heron: in tune" in out
    code, _, err = run(capsys, "detune", *arguments, "--as-leader-is")
    assert code == 2
    assert "needs the leader's readings" in err


def test_a_trim_follows_another_oscillator(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(
        capsys,
        *("trim", "Wren", "--hand", "--follow", "Heron", "--low", "C2", "--high", "C5"),
        *("--logbook", "none"),
    )
    assert code == 0
    assert "First Heron is surveyed" in out
    assert "Wren: in tune" in out
    code, _, err = run(capsys, "trim", "Wren", "--hand", "--follow", "Robin", "--logbook", "none")
    assert code == 2
    assert "no oscillator called Robin" in err


def test_charts_are_written_where_they_are_asked_for(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for arguments, names in (
        (["route", str(folder / "route.toml")], ["r.svg"]),
        (["ensemble", str(folder / "pit.toml")], ["r.svg", "r-whose-error.svg"]),
        (["detune", "--beats", "1"], ["r.svg"]),
        (["correct", str(folder / "heron.csv")], ["r.svg"]),
    ):
        chart = folder / "charts" / "r.svg"
        chart.parent.mkdir(exist_ok=True)
        code, out, _ = run(capsys, *arguments, "--chart", str(chart))
        assert code == 0
        for name in names:
            assert f"Written: {chart.parent / name}" in out
            assert (chart.parent / name).read_text().startswith("<?xml")
            (chart.parent / name).unlink()
    code, out, err = run(
        capsys, "detune", "--beats", "1", "--chart", str(folder / "nowhere" / "r.svg")
    )
    assert (code, out) == (2, "")
    assert len(err.splitlines()) == 1


def test_a_source_is_surveyed_from_its_voltages(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = tmp_path / "volts.csv"
    rows = [f"{n},{cv_of_note(n) * 1.001 + 0.002:.5f}" for n in range(24, 97, 12)]
    table.write_text("\n".join(["note,cv_v", *rows]))
    arguments = ["source", "Loft", "--volts", str(table)]
    code, out, _ = run(capsys, *arguments, "--json")
    record = json.loads(out)
    assert code == 0
    (found,) = record["oscillators"]
    # 0.1 % is 1.2 cents per octave; 2 mV at 0 V is 2.4 cents there.
    assert found["curve"][0]["cents"] == pytest.approx(2.4, abs=0.02)
    assert found["curve"][-1]["cents"] == pytest.approx(2.4 + 6 * 1.2, abs=0.02)
    code, out, _ = run(capsys, *arguments, "--sheet", str(tmp_path / "loft.svg"))
    assert code == 0
    assert "mV per volt" in out
    assert (tmp_path / "loft.svg").exists()


def test_a_source_is_surveyed_through_a_trusted_oscillator(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Heron's table against Heron's own curve: nothing is left for the source."""
    heard = str(folder / "heron.csv")
    code, out, _ = run(capsys, "source", "Loft", "--heard", heard, "--known", heard, "--json")
    assert code == 0
    (found,) = json.loads(out)["oscillators"]
    assert max(abs(entry["cents"]) for entry in found["curve"]) < 1e-6
    code, out, _ = run(capsys, "source", "Loft", "--heard", heard, "--json")
    (found,) = json.loads(out)["oscillators"]
    assert max(abs(entry["cents"]) for entry in found["curve"]) > 15.0


@pytest.mark.parametrize("by", ["meter", "Heron"])
def test_a_source_of_the_practice_rig_is_trimmed(
    by: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = run(
        capsys,
        *("source", "Stairs", "--hand", "--by", by, "--tolerance", "3", "--logbook", "none"),
    )
    assert code == 0
    assert "Stairs: in tune" in out
    assert "As left, surveyed afresh: Stairs" in out


def test_a_source_is_trimmed_by_typed_voltages(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever is typed is a voltage, or is asked for again; here nothing needs turning."""
    asked: list[str] = []

    def typed(question: str) -> str:
        asked.append(question)
        if len(asked) == 1:
            return "much"
        return question.split("(")[1].split(" ")[0]

    monkeypatch.setattr("pitchwright.cli.console.ask", typed)
    code, out, _ = run(
        capsys,
        "source",
        "Attic",
        "--by",
        "meter",
        "--low",
        "C2",
        "--high",
        "C5",
        *("--logbook", "none"),
    )
    assert code == 0
    assert "A control voltage is DC" in out
    assert "Write the volts that the meter shows" in out
    assert "Attic: in tune" in out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "Give one of --volts and --heard to survey it, or --by to trim it"),
        (["--volts", "a.csv", "--by", "meter"], "Give one of"),
        (["--volts", "nowhere.csv"], "There is no such file"),
        (["--practice", "--hand"], "Say who turns"),
        (["--hand", "--by", "Robin"], "no oscillator called Robin"),
        (["--hand", "--meter-mv", "0"], "A meter that reads to 0 V cannot be"),
        (["--by", "Heron"], "There is no bench file yet"),
    ],
)
def test_a_source_that_cannot_be(
    capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    code, _, err = run(capsys, "source", "Loft", *arguments)
    assert code == 2
    assert said in err


def test_corrections_are_not_sent_where_there_is_no_midi(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from pitchwright.bench.live import midi_ports

    arguments = ["correct", str(folder / "heron.csv"), "--send"]
    code, out, err = run(capsys, *arguments)
    assert (code, out) == (2, "")
    assert "No MIDI port is named" in err

    monkeypatch.setattr(midi_ports, "_ways", list)
    code, out, err = run(capsys, *arguments, "--port", "Attic")
    assert (code, out) == (2, "")
    assert "This computer has no MIDI system" in err
    assert len(err.splitlines()) == 1


def test_messages_are_sent_no_faster_than_a_cable_carries_them(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """408 bytes of ten bits at 31,250 bits per second take 0.131 s (MIDI 1.0)."""
    from pitchwright.bench.live import sending

    sent: list[bytes] = []

    class Port:
        name = "Attic synth"

        def send(self, message: bytes) -> None:
            sent.append(message)

        def close(self) -> None:
            sent.append(b"closed")

    waited: list[float] = []
    monkeypatch.setattr(sending, "open_midi_out", lambda port: Port())
    message = bytes([0xF0, *[1] * 406, 0xF7])
    assert sending.send_sysex("Attic", [message, message], waited.append) == "Attic synth"
    assert sent == [message, message, b"closed"]
    assert all(0.131 < seconds < 0.3 for seconds in waited)


def _table(path: Path, notes: range, cents: float = 0.0, u_cents: float = 0.02) -> None:
    rows = [f"{n},{note_to_hz(n) * ratio_of_cents(cents):.6f},{u_cents}" for n in notes]
    path.write_text("\n".join(["note,f_hz,u_cents", *rows]))


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["route", "loop.toml"], "loop"),
        (["route", "zero.toml"], "An impedance of 0"),
        (["ensemble", "apart.toml"], "The surveys share no note"),
        (["detune", "--beats", "50", "--low", "C1"], "cannot be at C1"),
        (["detune", "--cents", "0"], "A detune of 0 cents cannot be"),
        (["correct", "noisy.csv"], "Correcting would gain nothing"),
        (["warmup", "jumps.csv"], "The clock jumps back"),
        (["warmup", "words.csv"], "“warm” is not a number"),
    ],
)
def test_what_cannot_be_is_one_sentence_and_leaves_nothing_behind(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    arguments: list[str],
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    split = '[multiple.split]\nkind = "passive"\nfrom = "Loft"\n'
    heron = '[oscillator.Heron]\nfrom = "split"\ninput_ohm = 100000\n'
    loft = "[source.Loft]\noutput_ohm = 1000\n"
    Path("loop.toml").write_text(loft + split.replace("Loft", "split") + heron)
    Path("zero.toml").write_text(loft.replace("1000", "0") + split + heron)
    _table(Path("low.csv"), range(24, 49, 6))
    _table(Path("high.csv"), range(60, 85, 6))
    _table(Path("noisy.csv"), range(24, 85, 6), 0.1, 2.0)
    Path("apart.toml").write_text(
        "\n".join(
            f'[[survey]]\nsource = "Loft"\noscillator = "{name}"\ntable = "{table}.csv"'
            for name, table in (("Heron", "low"), ("Wren", "high"))
        )
    )
    Path("jumps.csv").write_text("t_s,Heron f_hz\n0,261\n9,261\n3,261\n")
    Path("words.csv").write_text("t_s,Heron f_hz,temperature_c\n0,261,21\n9,261,warm\n")
    before = sorted(path.name for path in tmp_path.iterdir())
    code, out, err = run(capsys, *arguments, "--chart", "chart.svg")
    assert (code, out) == (2, "")
    assert said in err
    assert len(err.splitlines()) == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == before
