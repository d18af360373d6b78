"""The tool plays: when its notes are heard is learned, and learned anew where that has changed."""

from __future__ import annotations

import pytest
from tests.bench.virtual_room import BLOCK_S, OFF_CENTS, VirtualPlayer, VirtualRoom

from pitchwright.bench.live.by_tool import ByTool
from pitchwright.bench.live.live_bench import LiveBench
from pitchwright.bench.live.playing import NotFollowedError
from pitchwright.bench.live.sound_memory import SoundMemory
from pitchwright.errors import InputError
from pitchwright.procedures.requests import Heard, PlayNote, TakeReadings
from pitchwright.units import cents_between, cv_of_note, note_to_hz

CHANNELS = {"Heron": 0, "Wren": 1}


@pytest.fixture
def room(monkeypatch: pytest.MonkeyPatch) -> VirtualRoom:
    made = VirtualRoom(monkeypatch)
    made.sent.append((0.0, 48.0))
    return made


def opened(room: VirtualRoom) -> LiveBench:
    return LiveBench(room, CHANNELS, VirtualPlayer(room), say=room.said.append)


def read(bench: LiveBench, note: float) -> tuple[Heard, ...]:
    bench.play(PlayNote(note, cv_of_note(note), ""))
    return bench.listen(TakeReadings(note, cv_of_note(note), ("Heron", "Wren"), 2.0, "")).heard


def right(heard: tuple[Heard, ...], note: float) -> bool:
    return all(
        one.f_hz is not None
        and not one.doubts
        and abs(cents_between(one.f_hz, note_to_hz(note)) - OFF_CENTS[one.oscillator]) < 1.0
        for one in heard
    )


@pytest.mark.parametrize("delay_s", [0.05, 0.3, 1.7])
def test_the_delay_is_learned_from_one_change_of_pitch(room: VirtualRoom, delay_s: float) -> None:
    room.delay_s = delay_s
    how = ByTool(VirtualPlayer(room), SoundMemory(room), CHANNELS, lambda _: 0.5)
    how.play(64.0, cv_of_note(64.0))
    # A block says when it came, not when it was played: that is half of what is not known.
    assert how.delay_s == pytest.approx(delay_s, abs=BLOCK_S + 0.02)
    assert how.window().from_s > room.sent[-1][0] + delay_s


@pytest.mark.parametrize("later_s", [1.2, 0.9])
def test_a_delay_that_has_changed_is_learned_anew(room: VirtualRoom, later_s: float) -> None:
    """As when another default device is handed in silently: then each note sounds too late."""
    bench = opened(room)
    assert right(read(bench, 60.0), 60.0)
    room.delay_s = later_s
    for note in (66.0, 54.0, 72.0):
        assert right(read(bench, note), note)


def test_the_delay_is_kept_where_one_oscillator_alone_is_wrong(room: VirtualRoom) -> None:
    """One that hangs, or was knocked, is doubted; the notes come when they always came."""
    bench = opened(room)
    read(bench, 60.0)
    room.off_cents = lambda note, name: 500.0 if name == "Wren" else OFF_CENTS[name]
    sent = len(room.sent)
    heron, wren = read(bench, 66.0)
    assert len(room.sent) == sent + 1
    assert heron.doubts == ()
    assert "was asked for" in wren.doubts[0]


def test_notes_that_nothing_follows_are_said(room: VirtualRoom) -> None:
    """The cable to the oscillator is out: one pitch stands, whatever is sent."""
    room.off_cents = lambda note, name: 100.0 * (48.0 - note)
    bench = opened(room)
    with pytest.raises(NotFollowedError, match="does not follow the notes") as raised:
        bench.play(PlayNote(60.0, 3.0, ""))
    assert isinstance(raised.value, InputError)
    assert any("The tool waits, then goes on" in one for one in room.said)


def test_a_reading_that_still_moved_makes_it_wait_longer(room: VirtualRoom) -> None:
    how = ByTool(VirtualPlayer(room), SoundMemory(room), CHANNELS, lambda _: 0.5)
    how.play(64.0, cv_of_note(64.0))
    before_s = how.window().from_s
    how.unsettled()
    assert how.window().from_s > before_s
