"""The listening commands where no sound system is needed, or where there is none."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from pitchwright.cli import main
from pitchwright.units import cents_between

RATE_HZ = 48_000


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    t_s = np.arange(round(0.8 * RATE_HZ)) / RATE_HZ
    parts = [sum(np.sin(2 * np.pi * f * k * t_s) / k for k in range(1, 30)) for f in (262, 393)]
    path = tmp_path / "two.wav"
    sf.write(path, 0.2 * np.stack(parts, axis=1), RATE_HZ, subtype="FLOAT")
    return path


def run(*words: str) -> int:
    with pytest.raises(SystemExit) as left:
        main(list(words))
    return int(left.value.code or 0)


def test_a_recording_is_listened_to_for_a_program(
    recording: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("listen", "--recording", str(recording), "--json", "Heron=1", "Wren=2") == 0
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert {line["channel"] for line in lines} == {"Heron", "Wren"}
    last = [line for line in lines if line["channel"] == "Wren"][-1]
    assert abs(cents_between(last["f_hz"], 393)) < 0.01
    assert last["settled"]


def test_a_recording_is_listened_to_in_lines(
    recording: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("listen", "--recording", str(recording)) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "channel 1: 262.00" in told
    assert "settled" in told
    assert run("listen", "--recording", str(recording), "Heron=1", "--once") == 0
    assert "C4 +2.476" in capsys.readouterr().out


@pytest.mark.parametrize("how", [(), ("--check",), ("--once",)])
def test_a_channel_on_which_nothing_arrives_is_told_where_the_sound_is(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], how: tuple[str, ...]
) -> None:
    t_s = np.arange(round(1.8 * RATE_HZ)) / RATE_HZ
    path = tmp_path / "second.wav"
    sf.write(path, np.stack([0.0 * t_s, 0.2 * np.sin(2 * np.pi * 262 * t_s)], axis=1), RATE_HZ)
    assert run("listen", "--recording", str(path), "Heron=1", *how) == 0
    said = " ".join("".join(capsys.readouterr()).split())
    assert "Nothing arrives for Heron (silence), but there is sound on channel 2." in said
    assert "Move the cable, or say that Heron is on channel 2." in said


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("Heron=0",), "“Heron=0” is no channel"),
        (("Heron",), "“Heron” is no channel"),
        (("1", "1"), "A channel is given twice"),
        (("--mains", "55"), "Write 50 or 60"),
        (("--clock-ppm", "-1"), "A clock tolerance of -1"),
        (("--reference", "Dunlin"), "No channel that is listened to is called “Dunlin”"),
        (("--a4", "40"), "A4 at 40 Hz"),
        (("9",), "There is no channel 9"),
    ],
)
def test_what_cannot_be_is_one_sentence(
    recording: Path, words: tuple[str, ...], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("listen", "--recording", str(recording), *words) == 2
    said = capsys.readouterr().err
    assert sentence in said
    assert len(said.strip().splitlines()) == 1


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("H4",), "is not a note"),
        (("C4", "--shape", "square"), "Write saw or sine"),
        (("xHz",), "is not a frequency"),
        (("C4", "--channels", "0"), "is no list of channels"),
    ],
)
def test_a_tone_that_cannot_be_is_one_sentence(
    words: tuple[str, ...], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("tone", *words) == 2
    assert sentence in capsys.readouterr().err


def test_without_portaudio_there_is_the_install_line() -> None:
    """A process in which the library cannot be found, as where it is not installed."""
    missing = (
        "import ctypes.util; ctypes.util.find_library = lambda name: None;"
        "from pitchwright.cli import main; main({words!r})"
    )
    for words in (["listen"], ["tone", "C4"], ["devices"]):
        process = subprocess.run(
            [sys.executable, "-c", missing.format(words=words)],
            capture_output=True,
            text=True,
            timeout=120,
        )
        told = " ".join((process.stdout + process.stderr).split())
        assert "apt install libportaudio2" in told
        assert process.returncode == (0 if words == ["devices"] else 2)


def test_nothing_but_live_sound_looks_for_portaudio() -> None:
    look = (
        "import sys, pitchwright.cli.app, pitchwright.cli.listening, pitchwright.bench.take,"
        "pitchwright.bench.live.hearing, pitchwright.bench.live.devices, pitchwright.cli.tone;"
        "sys.exit('sounddevice' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", look], timeout=120).returncode == 0
