"""Recordings dropped: what a browser sends is not believed, and nothing of it stays."""

from __future__ import annotations

import threading
from collections.abc import AsyncIterator, Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitchwright.cli.practising import rehearse
from pitchwright.errors import InputError
from pitchwright.web.drop import Dropped, Drops, shown_name

LONG_S = 60.0


class Kept:
    """What was told of the recordings, waited for."""

    def __init__(self) -> None:
        self.newest: tuple[Dropped, ...] = ()
        self._told = threading.Condition()

    def __call__(self, dropped: tuple[Dropped, ...]) -> None:
        with self._told:
            self.newest = dropped
            self._told.notify_all()

    def done(self, number: int) -> Dropped:
        with self._told:
            assert self._told.wait_for(
                lambda: any(one.number == number and one.done for one in self.newest), LONG_S
            )
            return next(one for one in self.newest if one.number == number)


@pytest.fixture
def kept() -> Kept:
    return Kept()


@pytest.fixture
def drops(kept: Kept, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Drops]:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    made = Drops(kept)
    yield made
    made.close()
    assert list(tmp_path.glob("pitchwright-page-*")) == [], "nothing stays behind"


async def in_parts(content: bytes, size: int = 65_536) -> AsyncIterator[bytes]:
    for start in range(0, len(content), size):
        yield content[start : start + size]


async def test_a_recording_is_heard_and_surveyed(drops: Drops, kept: Kept, tmp_path: Path) -> None:
    take = tmp_path / "take.wav"
    rehearse(take, notes="C2..C6 step 12", only="Heron,Wren")
    number = await drops.take("C:\\recordings\\My take.wav", in_parts(take.read_bytes()))
    heard = kept.done(number)
    assert heard.name == "My take.wav"
    assert [survey.name for survey in heard.surveys] == ["channel 1", "channel 2"]
    assert list(tmp_path.glob("pitchwright-page-*/*")) == [], "the recording itself is deleted"


@pytest.mark.parametrize("content", [b"", b"RIFF", b"\x00" * 5000, b"<html>"])
async def test_what_is_no_recording_ends_in_a_sentence_without_our_own_paths(
    drops: Drops, kept: Kept, tmp_path: Path, content: bytes
) -> None:
    heard = kept.done(await drops.take("a.flac", in_parts(content)))
    assert heard.surveys == ()
    assert heard.sentences[0].startswith("a.flac")
    assert str(tmp_path) not in heard.sentences[0]


async def test_a_recording_of_one_note_shows_nothing(
    drops: Drops, kept: Kept, tmp_path: Path
) -> None:
    take = tmp_path / "take.wav"
    rehearse(take, notes="C4", only="Heron")
    heard = kept.done(await drops.take("take.wav", in_parts(take.read_bytes())))
    assert heard.surveys == ()
    assert any("three notes" in sentence for sentence in heard.sentences)


async def test_a_recording_that_is_too_large_is_cut_off_and_deleted(
    drops: Drops, kept: Kept, tmp_path: Path
) -> None:
    taken = 0

    async def endless() -> AsyncIterator[bytes]:
        nonlocal taken
        while True:
            taken += 1000
            yield b"x" * 1000

    with pytest.raises(InputError, match="larger than"):
        await drops.take("a.wav", endless(), most=1 << 20)
    assert taken < (1 << 20) + 2000
    assert list(tmp_path.glob("pitchwright-page-*/*")) == []
    assert kept.newest == ()


async def test_a_recording_that_breaks_off_leaves_nothing(
    drops: Drops, kept: Kept, tmp_path: Path
) -> None:
    async def broken() -> AsyncIterator[bytes]:
        yield b"RIFF"
        raise InputError("The recording broke off on its way")

    with pytest.raises(InputError, match="broke off"):
        await drops.take("a.wav", broken())
    assert list(tmp_path.glob("pitchwright-page-*/*")) == []


async def test_only_the_last_recordings_are_kept(drops: Drops, kept: Kept) -> None:
    for _ in range(15):
        kept.done(await drops.take("a.wav", in_parts(b"RIFF")))
    assert len(kept.newest) == 12
    assert kept.newest[-1].number == 15


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("take.wav", "take.wav"),
        ("../../etc/passwd.wav", "passwd.wav"),
        ("C:\\Users\\me\\take.wav", "take.wav"),
        ("a\x00b\nc.wav", "abc.wav"),
        ("<b>take</b>.wav", "b.wav"),
        ("Ääkköset ♯.flac", "Ääkköset ♯.flac"),
        ("", "recording"),
        ("...", "recording"),
        ("/", "recording"),
    ],
)
def test_a_name_is_made_fit_to_be_shown(name: str, shown: str) -> None:
    assert shown_name(name) == shown


@given(st.text(max_size=300))
def test_no_name_leads_anywhere(name: str) -> None:
    shown = shown_name(name)
    assert shown
    assert not set(shown) & set('/\\<>:"|?*\x00\n')
    assert shown not in (".", "..")
    assert len(shown) <= 88
