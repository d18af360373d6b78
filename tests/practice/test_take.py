"""A take: sound and truth agree, memory stays small, failures leave nothing behind."""

from __future__ import annotations

import errno
import json
import os
import shutil
import subprocess
import sys
import tempfile
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.practice import (
    CvSource,
    FilterTone,
    Noise,
    Oscillator,
    PlayedNote,
    Recorder,
    Rig,
    TakeTruth,
    Voice,
    WarmUp,
    Waveform,
    WaveformKind,
    one_after_another,
    take,
    theatre_rig,
    truth_path,
    write_take,
)
from pitchwright.units import cents_between

CLEAN = Recorder(subtype="FLOAT", noise_dbfs=None)
SOURCE = CvSource("Loft", gain_error=0.001)


def sine_rig(oscillator: Oscillator, count: int = 1) -> Rig:
    return Rig((Voice(oscillator, Waveform(WaveformKind.SINE)),) * count, (SOURCE,))


def counted_hz(samples: NDArray[np.float64], rate_hz: float, near_hz: float) -> float:
    """Mean frequency of a sine: upward zero crossings counted, both ends' phases fitted."""
    crossings = np.count_nonzero((samples[:-1] < 0.0) & (samples[1:] >= 0.0))
    length = int(3.0 * rate_hz / near_hz)
    angle = 2.0 * np.pi * near_hz / rate_hz * np.arange(-length, length + 1)
    ends = []
    for part, offset in (
        (samples[: length + 1], angle[length:]),
        (samples[-length - 1 :], angle[: length + 1]),
    ):
        fit = np.stack([np.sin(offset), np.cos(offset)], axis=1)
        a, b = np.linalg.lstsq(fit, part, rcond=None)[0]
        ends.append(np.arctan2(b, a) / (2.0 * np.pi) % 1.0)
    cycles = crossings + ends[1] - ends[0]
    return float(cycles * rate_hz / (samples.size - 1))


def test_truth_is_what_is_in_the_file(tmp_path: Path) -> None:
    """Counted in the file, with drift, wander and jitter on: within 0.001 cent of the truth."""
    oscillator = Oscillator(
        "Wren",
        noise=Noise(2e-5, 0.02, 0.3),
        warmup=WarmUp((5.0,), (60.0,), on_for_s=10.0),
        base_cents_per_k=2.0,
        base_error_cents=7.0,
    )
    path = tmp_path / "take.wav"
    notes = one_after_another([60, 84, 48], length_s=1.5, gap_s=0.0, start_s=0.3)
    truth = write_take(path, sine_rig(oscillator), notes, recorder=CLEAN, seed=5)
    samples, rate_hz = soundfile.read(path)
    for note in truth.notes:
        assert note.f_hz is not None
        first, past = int(np.ceil(note.settled_s * rate_hz)), int(np.floor(note.end_s * rate_hz))
        found_hz = counted_hz(samples[first : past + 1], rate_hz, note.f_hz)
        assert abs(cents_between(found_hz, note.f_hz)) < 0.001
    cents = [note.cents for note in truth.notes]
    assert cents[0] is not None
    assert cents[0] != pytest.approx(7.0, abs=0.5)


def test_clock_error_shifts_the_file_by_what_is_said(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    recorder = Recorder(subtype="FLOAT", noise_dbfs=None, clock_ppm=100.0)
    truth = write_take(
        path, sine_rig(Oscillator("Wren")), one_after_another([72], length_s=2.0), recorder=recorder
    )
    samples, rate_hz = soundfile.read(path)
    f_hz = truth.notes[0].f_hz
    assert f_hz is not None
    found_hz = counted_hz(samples[int(0.6 * rate_hz) : int(2.4 * rate_hz)], rate_hz, f_hz)
    # 100 ppm are 0.1731 cent; a clock that runs fast makes the pitch read low.
    assert truth.clock_ppm == 100.0
    assert cents_between(found_hz, f_hz) == pytest.approx(-0.1731, abs=0.001)


def test_truth_file_holds_the_same(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    notes = [PlayedNote(60, 0.5, 0.4), PlayedNote(61, 1.0, 0.05, glide_s=0.2, mistake=True)]
    truth = write_take(path, theatre_rig(), notes, source="stairs", seed=9)
    told = json.loads(truth_path(path).read_text(encoding="utf-8"))
    assert truth_path(path).name == "take.truth.json"
    assert told == json.loads(truth.to_json())
    assert [o["name"] for o in told["oscillators"]] == [
        "Heron",
        "Wren",
        "Plover",
        "Dunlin",
        "Bittern",
    ]
    assert told["source"] == "Stairs"
    assert "invented" in told["about"]
    assert len(told["notes"]) == 10
    never_settled = told["notes"][5]
    assert (never_settled["f_hz"], never_settled["cents"], never_settled["mistake"]) == (
        None,
        None,
        True,
    )
    assert told["notes"][0]["cv_v"] == 3.0
    assert told["notes"][0]["sent_v"] == pytest.approx(3.0, abs=0.01)


def test_same_seed_same_samples(tmp_path: Path) -> None:
    def samples(name: str, seed: int) -> NDArray[np.float64]:
        write_take(tmp_path / name, theatre_rig(), one_after_another([50], length_s=0.4), seed=seed)
        return np.asarray(soundfile.read(tmp_path / name)[0])

    first = samples("a.wav", 1)
    np.testing.assert_array_equal(first, samples("b.wav", 1))
    assert not np.array_equal(first, samples("c.wav", 2))


def test_recorder_adds_noise_hum_and_crosstalk(tmp_path: Path) -> None:
    silent = Voice(Oscillator("Wren"), Waveform(WaveformKind.SINE), level=0.0)
    loud = Voice(Oscillator("Heron"), Waveform(WaveformKind.SINE), level=0.5)
    path = tmp_path / "take.wav"
    recorder = Recorder(subtype="FLOAT", noise_dbfs=-80.0, hum_dbfs=-60.0, crosstalk_db=-40.0)
    write_take(
        path,
        Rig((loud, silent), (SOURCE,)),
        one_after_another([60], length_s=2.0),
        recorder=recorder,
    )
    samples, rate_hz = soundfile.read(path)
    span = samples[int(0.6 * rate_hz) : int(2.4 * rate_hz), 1]
    t_s = np.arange(span.size) / rate_hz
    f_hz = float(Oscillator("Heron").f_hz(np.array(3.003)))
    fit = np.stack(
        [g(2.0 * np.pi * f * t_s) for f in (50.0, f_hz) for g in (np.sin, np.cos)], axis=1
    )
    found = np.linalg.lstsq(fit, span, rcond=None)[0]
    assert np.hypot(*found[:2]) == pytest.approx(1e-3, rel=0.02)
    assert np.hypot(*found[2:]) == pytest.approx(0.5e-2, rel=0.02)
    assert np.std(span - fit @ found) == pytest.approx(1e-4 / np.sqrt(2.0), rel=0.02)


def test_filter_voice_is_a_noisy_sine_that_fades_in_the_bass(tmp_path: Path) -> None:
    tone = FilterTone(noise_db=-50.0, resonance=20.0, low_corner_hz=100.0)
    voice = Voice(Oscillator("Bittern"), Waveform(WaveformKind.SINE), 0.5, tone)
    path = tmp_path / "take.wav"
    truth = write_take(
        path, Rig((voice,), (CvSource("Loft"),)), one_after_another([36, 96]), recorder=CLEAN
    )
    samples, rate_hz = soundfile.read(path)
    levels = []
    for note in truth.notes:
        span = samples[int(note.settled_s * rate_hz) : int(note.end_s * rate_hz)]
        levels.append(np.sqrt(2.0 * np.mean(span**2)))
    f_hz = truth.notes[0].f_hz
    assert f_hz is not None
    assert levels[0] == pytest.approx(0.5 / np.sqrt(1.0 + (100.0 / f_hz) ** 2), rel=0.02)
    assert levels[1] == pytest.approx(0.5, rel=0.01)
    assert truth.oscillators[0].waveform == "filter"


def test_long_takes_need_little_memory(tmp_path: Path) -> None:
    notes = one_after_another(list(range(36, 56)), length_s=0.9, gap_s=0.1)
    tracemalloc.start()
    try:
        truth = write_take(tmp_path / "take.wav", sine_rig(Oscillator("Wren"), 8), notes)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    all_at_once = truth.frames * 8 * 8
    assert all_at_once > 60e6
    assert peak < 20e6


def test_past_the_limit_of_wav_it_becomes_rf64(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """RF64 (EBU Tech 3306) holds what a WAV's 32-bit sizes cannot."""
    path = tmp_path / "take.wav"
    rig = sine_rig(Oscillator("Wren"))
    notes = one_after_another([60])
    write_take(path, rig, notes)
    plain = soundfile.read(path)[0]
    assert soundfile.info(path).format == "WAV"
    monkeypatch.setattr(take, "_LIMIT_BYTES", 1000)
    write_take(path, rig, notes)
    assert soundfile.info(path).format == "RF64"
    np.testing.assert_array_equal(soundfile.read(path)[0], plain)
    with pytest.raises(InputError, match="too long for AIFF"):
        write_take(tmp_path / "take.aiff", rig, notes)


@pytest.mark.parametrize("name", ["take.flac", "take.aiff"])
def test_other_formats(tmp_path: Path, name: str) -> None:
    truth = write_take(tmp_path / name, theatre_rig(), one_after_another([60], length_s=0.3))
    assert soundfile.info(tmp_path / name).frames == truth.frames
    assert soundfile.info(tmp_path / name).channels == 5


def test_progress_ends_at_one(tmp_path: Path) -> None:
    shares: list[float] = []
    notes = one_after_another([60, 62], length_s=1.0)
    write_take(tmp_path / "take.wav", sine_rig(Oscillator("Wren")), notes, progress=shares.append)
    assert shares == sorted(shares)
    assert len(shares) > 2
    assert shares[-1] == 1.0


def refused(path: Path, recorder: Recorder | None = None) -> TakeTruth:
    return write_take(
        path, sine_rig(Oscillator("Wren")), one_after_another([60]), recorder=recorder
    )


def test_bad_places_are_sentences_and_leave_nothing(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="folder does not exist"):
        refused(tmp_path / "nowhere" / "take.wav")
    with pytest.raises(InputError, match=r"Use \.wav, \.flac or \.aiff"):
        refused(tmp_path / "take.mp3")
    with pytest.raises(
        InputError, match=r"FLAC cannot hold this take .channels: 1, samples: FLOAT, 48000"
    ):
        refused(tmp_path / "take.flac", CLEAN)
    with pytest.raises(InputError, match=r"FLAC cannot hold this take .channels: 9"):
        write_take(tmp_path / "take.flac", sine_rig(Oscillator("Wren"), 9), one_after_another([60]))
    with pytest.raises(InputError, match="4 samples a second"):
        Recorder(rate_hz=4)
    with pytest.raises(InputError, match=r"kind PCM_U8. Use one of: PCM_16, PCM_24"):
        Recorder(subtype="PCM_U8")
    (tmp_path / "folder.wav").mkdir()
    with pytest.raises(InputError, match="is a folder"):
        refused(tmp_path / "folder.wav")
    assert [entry.name for entry in tmp_path.iterdir()] == ["folder.wav"]


def test_a_folder_that_is_not_ours_is_a_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # No folder is closed to root, so the refusal is made here rather than by the system.
    def closed(**_: object) -> None:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(tempfile, "mkstemp", closed)
    with pytest.raises(InputError, match="no permission"):
        refused(tmp_path / "take.wav")


def test_too_little_room_is_said_before_anything_is_played(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda _: _NoRoom())
    with pytest.raises(InputError, match=r"MB are free. Make room"):
        refused(tmp_path / "take.wav")
    assert not list(tmp_path.iterdir())


class _NoRoom:
    free = 1000


def test_a_disk_that_fills_up_leaves_the_old_take_alone(tmp_path: Path) -> None:
    """A limit on file size stops the writing half way, as a full disk would."""
    pytest.importorskip("resource")
    paths = [tmp_path / f"take.{ending}" for ending in ("wav", "flac", "aiff")]
    for path in paths:
        path.write_bytes(b"the take of last year")
    program = (
        "import resource, sys, pathlib\n"
        "from pitchwright.errors import InputError\n"
        "from pitchwright.practice import one_after_another, theatre_rig, write_take\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (400_000, 400_000))\n"
        "for path in sys.argv[1:]:\n"
        "    try:\n"
        "        write_take(pathlib.Path(path), theatre_rig(), one_after_another([60, 62]))\n"
        "    except InputError as fault:\n"
        "        print(fault.sentence)\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", program, *map(str, paths)],
        capture_output=True,
        text=True,
        check=False,
    )
    sentences = ran.stdout.splitlines()
    assert ran.stderr == ""
    assert [path.name for path in paths] == [Path(line.split(": ")[0]).name for line in sentences]
    assert all("The disk is full" in line for line in sentences)
    assert sorted(tmp_path.iterdir()) == sorted(paths)
    assert all(path.read_bytes() == b"the take of last year" for path in paths)


def test_stopping_half_way_leaves_nothing(tmp_path: Path) -> None:
    def stop(_: float) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_take(tmp_path / "t.wav", theatre_rig(), one_after_another([60]), progress=stop)
    assert not list(tmp_path.iterdir())
