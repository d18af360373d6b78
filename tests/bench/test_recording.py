"""Recordings: every kind that is read, and every way a file can be unusable."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from pitchwright.bench.recording import Recording
from pitchwright.errors import InputError

Sound = NDArray[np.float64]


@pytest.fixture
def sound() -> Sound:
    """One second of three channels at 48 kHz, all different."""
    t_s = np.arange(48_000) / 48_000
    return np.stack([0.3 * np.sin(2 * np.pi * f_hz * t_s) for f_hz in (220, 330, 440)], axis=1)


def refused(path: Path | str) -> str:
    with pytest.raises(InputError) as refusal, Recording(path) as recording:
        for _ in recording.blocks():
            pass
    return str(refusal.value)


@pytest.mark.parametrize(
    ("name", "kind", "subtype", "words", "step"),
    [
        ("a.wav", "WAV", "PCM_16", "WAV, 16 bit", 2**-15),
        ("a.wav", "WAV", "PCM_24", "WAV, 24 bit", 2**-23),
        ("a.wav", "WAV", "PCM_32", "WAV, 32 bit", 2**-23),
        ("a.wav", "WAV", "FLOAT", "WAV, 32 bit float", 2**-23),
        ("a.wav", "WAV", "DOUBLE", "WAV, 64 bit float", 2**-23),
        ("a.wav", "WAVEX", "PCM_24", "WAV, 24 bit", 2**-23),
        ("a.wav", "RF64", "PCM_24", "WAV, 24 bit", 2**-23),
        ("a.flac", "FLAC", "PCM_16", "FLAC, 16 bit", 2**-15),
        ("a.flac", "FLAC", "PCM_24", "FLAC, 24 bit", 2**-23),
        ("a.aiff", "AIFF", "PCM_16", "AIFF, 16 bit", 2**-15),
        ("a.aiff", "AIFF", "PCM_24", "AIFF, 24 bit", 2**-23),
        ("a.aiff", "AIFF", "FLOAT", "AIFF, 32 bit float", 2**-23),
    ],
)
def test_reads_every_kind_to_its_resolution(
    tmp_path: Path, sound: Sound, name: str, kind: str, subtype: str, words: str, step: float
) -> None:
    path = tmp_path / name
    sf.write(path, sound, 48_000, subtype, format=kind)
    with Recording(path) as recording:
        assert (recording.rate_hz, recording.channels, recording.frames) == (48_000, 3, 48_000)
        assert recording.format == words
        assert recording.duration_s == 1.0
        heard = np.concatenate(list(recording.blocks(0.13)))
        again = np.concatenate(list(recording.blocks()))
    assert heard.dtype == np.float32
    np.testing.assert_allclose(heard, sound, atol=step)
    np.testing.assert_array_equal(heard, again)


def test_blocks_stay_small_however_many_channels(tmp_path: Path) -> None:
    path = tmp_path / "many.wav"
    sf.write(path, np.zeros((50_000, 256)), 48_000)
    with Recording(path) as recording:
        sizes = [block.size for block in recording.blocks(60.0)]
    assert sum(sizes) == 50_000 * 256
    assert max(sizes) <= 2**22


def test_missing(tmp_path: Path) -> None:
    assert "There is no such file" in refused(tmp_path / "none.wav")


def test_folder(tmp_path: Path) -> None:
    assert "This is a folder" in refused(tmp_path)


def test_empty(tmp_path: Path) -> None:
    path = tmp_path / "empty.wav"
    path.touch()
    assert "The file is empty" in refused(path)


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    path = tmp_path / "pipe.wav"
    os.mkfifo(path)
    assert "not an ordinary file" in refused(path)


@pytest.mark.parametrize("name", ["a\0b", "a" * 5000])
def test_impossible_names(name: str) -> None:
    assert refused(name)


def test_large_file_without_permission(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "large.wav"
    with path.open("wb") as large:
        large.truncate(10 * 2**30)
    path.chmod(0)
    if os.access(path, os.R_OK):  # the superuser reads everything

        def closed(*_: object, **__: object) -> None:
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr(Path, "open", closed)
    assert "no permission" in refused(path)


def test_large_file_that_is_no_recording(tmp_path: Path) -> None:
    path = tmp_path / "large.wav"
    with path.open("wb") as large:
        large.truncate(10 * 2**30)
    assert "This is not a recording" in refused(path)


def test_text_is_not_a_recording(tmp_path: Path) -> None:
    path = tmp_path / "text.wav"
    path.write_text("not sound " * 100)
    assert "This is not a recording" in refused(path)


@pytest.mark.parametrize("kind", ["WAV", "WAVEX", "RF64", "FLAC", "AIFF"])
def test_cut_off(tmp_path: Path, sound: Sound, kind: str) -> None:
    path = tmp_path / "cut"
    sf.write(path, sound, 48_000, "PCM_24", format=kind)
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) * 2 // 3])
    assert "cut off" in refused(path)


@pytest.mark.parametrize("size", [0x7FFF_FFFF, 0xFFFF_FFFF])
def test_a_header_written_before_the_length_was_known_is_read(
    tmp_path: Path, sound: Sound, size: int
) -> None:
    # Programs that write WAV to a pipe put a placeholder where the length would be.
    path = tmp_path / "piped.wav"
    sf.write(path, sound, 48_000, "PCM_16")
    content = bytearray(path.read_bytes())
    place = content.index(b"data") + 4
    content[place : place + 4] = size.to_bytes(4, "little")
    path.write_bytes(content)
    with Recording(path) as recording:
        assert sum(len(block) for block in recording.blocks()) == 48_000


@pytest.mark.parametrize(
    ("kind", "subtype"),
    [("WAV", "PCM_U8"), ("FLAC", "PCM_S8"), ("AIFF", "PCM_S8"), ("WAV", "ULAW")],
)
def test_eight_bit_is_refused_with_the_reason(
    tmp_path: Path, sound: Sound, kind: str, subtype: str
) -> None:
    path = tmp_path / "eight"
    sf.write(path, sound, 48_000, subtype, format=kind)
    said = refused(path)
    assert "8-bit" in said
    assert "Record with 16, 24 or 32 bits or float" in said


@pytest.mark.parametrize(
    ("kind", "subtype"), [("OGG", "VORBIS"), ("W64", "PCM_16"), ("CAF", "PCM_16")]
)
def test_other_kinds_are_refused(tmp_path: Path, sound: Sound, kind: str, subtype: str) -> None:
    path = tmp_path / "other"
    sf.write(path, sound, 48_000, subtype, format=kind)
    assert "This kind of file is not read" in refused(path)


@pytest.mark.parametrize(
    ("bad", "words"),
    [
        (np.nan, "not a number"),
        (np.inf, "infinite"),
        (-np.inf, "infinite"),
        (3e4, "times full scale"),
    ],
)
def test_impossible_samples_are_located(
    tmp_path: Path, sound: Sound, bad: float, words: str
) -> None:
    path = tmp_path / "bad.wav"
    sound[30_000, 1] = bad
    sf.write(path, sound, 48_000, "FLOAT")
    said = refused(path)
    assert words in said
    assert "channel 2 at 0.6250 s" in said


@pytest.mark.parametrize("rate_hz", [8_000, 22_049, 192_001, 384_000])
def test_sample_rates_out_of_range(tmp_path: Path, rate_hz: int) -> None:
    path = tmp_path / "rate.wav"
    sf.write(path, np.zeros(100), rate_hz)
    assert f"The sample rate is {rate_hz} Hz" in refused(path)


@pytest.mark.parametrize("rate_hz", [22_050, 192_000])
def test_sample_rates_at_the_ends_of_the_range(tmp_path: Path, rate_hz: int) -> None:
    path = tmp_path / "rate.wav"
    sf.write(path, np.zeros(100), rate_hz)
    with Recording(path) as recording:
        assert recording.rate_hz == rate_hz


def test_zero_length(tmp_path: Path) -> None:
    path = tmp_path / "zero.wav"
    sf.write(path, np.zeros((0, 2)), 48_000)
    assert "its length is zero" in refused(path)


def whole_files() -> list[bytes]:
    """Small whole files of every kind, to be damaged."""
    import io

    sound = np.random.default_rng(1).uniform(-0.5, 0.5, (60, 2))
    files = []
    for kind, subtype in (
        ("WAV", "PCM_16"),
        ("WAV", "FLOAT"),
        ("WAVEX", "PCM_24"),
        ("RF64", "PCM_24"),
        ("FLAC", "PCM_24"),
        ("AIFF", "PCM_24"),
    ):
        written = io.BytesIO()
        sf.write(written, sound, 48_000, subtype, format=kind)
        files.append(written.getvalue())
    return files


@settings.get_profile("fuzz")
@given(
    whole=st.sampled_from(whole_files()),
    changes=st.lists(st.tuples(st.integers(0, 400), st.integers(0, 255)), max_size=6),
    keep=st.integers(0, 600),
    junk=st.binary(max_size=40),
)
def test_damaged_files_give_samples_or_a_sentence(
    tmp_path_factory: pytest.TempPathFactory,
    whole: bytes,
    changes: list[tuple[int, int]],
    keep: int,
    junk: bytes,
) -> None:
    content = bytearray(whole[:keep])
    for place, byte in changes:
        if place < len(content):
            content[place] = byte
    path = tmp_path_factory.getbasetemp() / "damaged"
    path.write_bytes(bytes(content) + junk)
    said = "."
    try:
        with Recording(path) as recording:
            for block in recording.blocks():
                assert np.isfinite(block).all()
                assert block.shape[1] == recording.channels
    except InputError as refusal:
        said = refusal.sentence
    assert said.endswith(".")
    assert "\n" not in said
