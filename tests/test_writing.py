"""Whole or not at all, whatever goes wrong."""

import errno
import os
from pathlib import Path

import pytest

from pitchwright.errors import InputError
from pitchwright.writing import free_path, whole_file, write_whole


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_writes_text_and_bytes(tmp_path: Path) -> None:
    write_whole(tmp_path / "a.txt", "für ♯")
    write_whole(tmp_path / "b.bin", b"\x00\x01")
    assert (tmp_path / "a.txt").read_text(encoding="utf-8") == "für ♯"
    assert (tmp_path / "b.bin").read_bytes() == b"\x00\x01"
    assert names(tmp_path) == ["a.txt", "b.bin"]


def test_readable_as_any_other_file(tmp_path: Path) -> None:
    (tmp_path / "plain").write_text("x")
    write_whole(tmp_path / "whole", "x")
    assert (tmp_path / "whole").stat().st_mode == (tmp_path / "plain").stat().st_mode


@pytest.mark.parametrize("fault", [KeyboardInterrupt, ValueError])
def test_an_interruption_keeps_what_was_there(tmp_path: Path, fault: type[BaseException]) -> None:
    target = tmp_path / "kept.txt"
    target.write_text("before")
    with pytest.raises(fault), whole_file(target) as aside:
        aside.write_text("half")
        raise fault
    assert target.read_text() == "before"
    assert names(tmp_path) == ["kept.txt"]


def test_a_full_disk_is_a_sentence(tmp_path: Path) -> None:
    target = tmp_path / "out.csv"
    with pytest.raises(InputError, match="disk is full"), whole_file(target):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
    assert names(tmp_path) == []


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
def test_a_full_device_is_a_sentence(tmp_path: Path) -> None:
    # /dev/full answers every write with "no space left", as a full disk does.
    with pytest.raises(InputError, match="disk is full"), whole_file(tmp_path / "out") as aside:
        aside.unlink()
        aside.symlink_to("/dev/full")
        aside.write_bytes(b"x" * 100_000)
    assert names(tmp_path) == []


def test_missing_folder_and_folder_as_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="folder does not exist"):
        write_whole(tmp_path / "no" / "x.txt", "x")
    with pytest.raises(InputError, match="is a folder"):
        write_whole(tmp_path, "x")
    (tmp_path / "file").write_text("x")
    with pytest.raises(InputError, match="not a folder"):
        write_whole(tmp_path / "file" / "x.txt", "x")


def test_free_path_never_meets_a_file(tmp_path: Path) -> None:
    target = tmp_path / "heron-sheet.svg"
    assert free_path(target) == target
    target.touch()
    (tmp_path / "heron-sheet-2.svg").touch()
    assert free_path(target).name == "heron-sheet-3.svg"


def test_a_logbook_is_not_written_over_by_anything_else(tmp_path: Path) -> None:
    logbook = tmp_path / "own.sqlite"
    logbook.write_bytes(b"SQLite format 3\x00 and pages")
    with pytest.raises(InputError, match="A logbook stands here"):
        write_whole(logbook, "readings")
    assert logbook.read_bytes().startswith(b"SQLite format 3\x00")
    assert names(tmp_path) == ["own.sqlite"]
    write_whole(logbook, b"SQLite format 3\x00 a newer backup")
    assert logbook.read_bytes().endswith(b"newer backup")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no such thing on this system")
def test_a_device_is_not_written_over(tmp_path: Path) -> None:
    device = tmp_path / "device"
    os.mkfifo(device)
    with pytest.raises(InputError, match="This is a device"):
        write_whole(device, "x")
    assert device.is_fifo()
