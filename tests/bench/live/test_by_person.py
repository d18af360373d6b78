"""A person plays: the right note is taken however far off it is, another is recognised."""

from __future__ import annotations

import numpy as np
import pytest
from tests.bench.virtual_room import VirtualRoom

from pitchwright.bench.live.live_bench import LiveBench
from pitchwright.procedures.requests import PlayNote, TakeReadings
from pitchwright.units import cents_between, cv_of_note, note_to_hz

CHANNELS = {"Heron": 0, "Wren": 1}


@pytest.fixture
def room(monkeypatch: pytest.MonkeyPatch) -> VirtualRoom:
    return VirtualRoom(monkeypatch)


def read(bench: LiveBench, note: float) -> tuple[float, tuple[str, ...]]:
    """Heron's error in cents at a note played by the person, and what is doubted of it."""
    bench.play(PlayNote(note, cv_of_note(note), ""))
    (heard,) = bench.listen(TakeReadings(note, cv_of_note(note), ("Heron",), 2.0, "")).heard
    assert heard.f_hz is not None
    return cents_between(heard.f_hz, note_to_hz(note)), heard.doubts


@pytest.mark.parametrize("per_octave", [-100.0, -21.0, 60.0, 100.0])
def test_no_right_note_is_refused_however_wide_the_scale(
    room: VirtualRoom, per_octave: float
) -> None:
    chance = np.random.default_rng(round(abs(per_octave)))
    base = float(chance.uniform(-400.0, 400.0))
    order = [float(note) for note in chance.permutation(np.arange(24, 85, 6))]
    room.off_cents = lambda note, _: base + per_octave * (note - 60.0) / 12.0
    bench = LiveBench(room, CHANNELS, None, say=room.say)
    bench.expect([(note, 0.0) for note in order])
    for note in order:
        began_s = room.t_s
        found, doubts = read(bench, note)
        assert found == pytest.approx(room.off_cents(note, ""), abs=1.0)
        assert doubts == ()
        assert room.t_s - began_s < 15.0


def test_a_base_far_off_is_taken_at_a_word_and_known_from_then_on(room: VirtualRoom) -> None:
    """An octave and more flat, as a coarse base trimmer may leave it."""
    room.off_cents = lambda _, name: -1430.0
    bench = LiveBench(room, CHANNELS, None, say=room.say)
    pressed = []

    def press_enter() -> None:
        if room.said[-1].startswith("That is near"):
            pressed.append(room.t_s)
            room.said.append("")
            bench.advance()

    room.every_block = press_enter
    for note in (60.0, 72.0, 54.0):
        found, doubts = read(bench, note)
        assert found == pytest.approx(-1430.0, abs=1.0)
        assert doubts == ()
    assert len(pressed) == 1


def test_who_holds_on_is_heard_with_a_doubt(room: VirtualRoom) -> None:
    room.off_cents = lambda _, name: -1430.0
    bench = LiveBench(room, CHANNELS, None, say=room.say)
    found, doubts = read(bench, 60.0)
    assert found == pytest.approx(-1430.0, abs=1.0)
    assert "near" in doubts[0]


def test_another_note_is_said_and_the_right_one_taken(room: VirtualRoom) -> None:
    """Somebody strikes the key beside it, hears of it, and plays the right one."""
    bench = LiveBench(room, CHANNELS, None, say=room.say)
    for note in (48.0, 60.0):
        read(bench, note)
    room.plays_instead[66.0] = 67.0

    def mend() -> None:
        if room.said[-1].startswith("That is near G4; F♯4 is wanted"):
            room.said.append("")
            room.sent.append((room.t_s + 0.5, 66.0))

    room.every_block = mend
    found, doubts = read(bench, 66.0)
    assert found == pytest.approx(7.0, abs=1.0)
    assert doubts == ()


@pytest.mark.parametrize("known", [(48.0, 60.0), (60.0,)])
def test_a_note_wanted_later_is_kept_for_then(room: VirtualRoom, known: tuple[float, ...]) -> None:
    bench = LiveBench(room, CHANNELS, None, say=room.say)
    bench.expect([(note, 0.0) for note in (48.0, 60.0, 66.0, 72.0)])
    for note in known:
        read(bench, note)
    room.plays_instead[66.0] = 72.0

    def mend() -> None:
        if "it is kept" in room.said[-1]:
            room.said.append("")
            room.sent.append((room.t_s + 0.5, 66.0))

    room.every_block = mend
    assert read(bench, 66.0)[0] == pytest.approx(7.0, abs=1.0)
    asked = len(room.said)
    assert read(bench, 72.0)[0] == pytest.approx(7.0, abs=1.0)
    assert room.said[asked:] == []


def test_enter_does_not_make_the_note_before_another(room: VirtualRoom) -> None:
    bench = LiveBench(room, CHANNELS, None, say=room.say)
    read(bench, 60.0)
    room.plays_instead[61.0] = 60.0  # it stays on the key
    told = "That still is the note before; C♯4 is wanted."

    def press_enter() -> None:
        if room.said[-1].startswith("Play C♯4"):
            room.said.append("")
            bench.advance()
        elif room.said[-1] == told:
            room.said.append("")
            room.sent.append((room.t_s + 0.5, 61.0))

    room.every_block = press_enter
    assert read(bench, 61.0)[0] == pytest.approx(7.0, abs=1.0)
    assert told in room.said
