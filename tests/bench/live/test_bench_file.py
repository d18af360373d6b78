"""The bench file: written and read back, and faults told with their line."""

from __future__ import annotations

from pathlib import Path

import pytest

from pitchwright.bench.live.bench_file import (
    BenchFile,
    bench_path,
    checked,
    read_bench,
    write_bench,
)
from pitchwright.errors import InputError
from pitchwright.trim.kinds import TrimmerKind

TEXT = """\
name = "Pit band"
notes = "voltage"
note_at_0_v = "C2"

[sound_in]
device = "line in"
rate_hz = 96000

[oscillator.Heron]
channel = 1
route = "Loft, buffered multiple 2"

[[oscillator.Heron.trimmer]]
name = "scale, through the hole"
kind = "scale"

[oscillator."Wren two"]
channel = 3

[voltage_out]
device = "line out"
channel = 5
control_voltage = true

[voltage_out.calibration]
levels = [0.0, 0.4, 0.8]
read_v = ["0.002", "4.003", "8.005"]
u_gain_percent = 0.1
"""


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "bench.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_it_comes_back_as_it_was_written(tmp_path: Path) -> None:
    bench = read_bench(written(tmp_path, TEXT))
    assert bench.note_at_0_v == 36.0
    assert bench.trimmers("heron")[0].trimmer_kind == TrimmerKind.SCALE
    assert bench.voltage_out is not None
    assert bench.voltage_out.calibration is not None
    assert bench.voltage_out.calibration.calibration().volts_per_unit == pytest.approx(10.004, 1e-3)
    again = tmp_path / "new" / "bench.toml"
    write_bench(again, bench)
    assert read_bench(again) == bench


def test_names_with_quotes_dots_and_letters_of_any_script_come_back(tmp_path: Path) -> None:
    names = ['Heron "the old"', "Wren.2", "Réiher\\", "鷺", "tab\there"]
    bench = checked({"oscillator": {n: {"channel": c} for c, n in enumerate(names, start=1)}})
    write_bench(tmp_path / "bench.toml", bench)
    assert list(read_bench(tmp_path / "bench.toml").oscillator) == names


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("rate_hz = 96000", "rate_hz = 96", "line 7, sound_in.rate_hz"),
        ("rate_hz = 96000", "ratehz = 96000", "There is no field of this name"),
        ("channel = 1", "channel = 0", "line 10, oscillator.Heron.channel"),
        ('kind = "scale"', 'kind = "fine"', "line 15, oscillator.Heron.trimmer.1.kind"),
        ("channel = 3", "channel = 1", "Wren two and Heron are both on channel 1"),
        ('"8.005"]', '"8 volts"]', "is not a voltage"),
        (', "8.005"]', "]", "at least 3 items"),
        ('notes = "voltage"', 'notes = "midi"', "there is no [midi]"),
        ('note_at_0_v = "C2"', 'note_at_0_v = "H2"', "note_at_0_v"),
        ("control_voltage = true", "control_voltage = 1", "true or false is needed"),
        ('name = "Pit band"', "name = Pit band", "not TOML"),
    ],
)
def test_faults_are_told_with_line_and_field(tmp_path: Path, old: str, new: str, said: str) -> None:
    with pytest.raises(InputError) as refused:
        read_bench(written(tmp_path, TEXT.replace(old, new, 1)))
    assert said in refused.value.sentence


def test_a_bench_that_is_not_there_and_an_oscillator_that_is_not(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="pitchwright bench setup"):
        read_bench(tmp_path / "none.toml")
    with pytest.raises(InputError, match="There are: Heron, Wren two"):
        read_bench(written(tmp_path, TEXT)).named("Plover")


def test_where_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert bench_path(tmp_path / "mine.toml") == tmp_path / "mine.toml"
    monkeypatch.setenv("PITCHWRIGHT_BENCH", str(tmp_path / "named.toml"))
    assert bench_path() == tmp_path / "named.toml"
    monkeypatch.delenv("PITCHWRIGHT_BENCH")
    assert bench_path().name == "bench.toml"


def test_a_channel_cannot_be_two_things() -> None:
    with pytest.raises(InputError, match="cannot be both the voltage and"):
        checked({"oscillator": {"Heron": {"channel": 2}}, "voltage_in": {"channel": 2}})
    assert isinstance(checked({"oscillator": {"Heron": {"channel": 2}}}), BenchFile)
