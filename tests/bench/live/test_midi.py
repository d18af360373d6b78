"""MIDI without hardware: ports by name, notes let go of, and no MIDI system at all."""

from __future__ import annotations

import subprocess
import sys
from typing import Any

import mido
import pytest

from pitchwright.bench.live import midi_ports, notes_midi
from pitchwright.bench.live.notes_midi import MidiNotes
from pitchwright.bench.live.stand_in import KeysDown
from pitchwright.errors import InputError
from pitchwright.practice.source import CvSource


class Port:
    """Remembers what was sent."""

    name, closed = "Converter 1", False

    def __init__(self) -> None:
        self.sent: list[Any] = []
        self.broken = False

    def send(self, message: bytes) -> None:
        if self.broken:
            raise SystemError("unplugged")
        self.sent.append(mido.Message.from_bytes(message))

    def close(self) -> None:
        self.closed = True


@pytest.fixture
def port(monkeypatch: pytest.MonkeyPatch) -> Port:
    there = Port()
    monkeypatch.setattr(notes_midi, "open_midi_out", lambda _: there)
    monkeypatch.setattr(notes_midi, "midi_outputs", lambda: [] if there.broken else [there.name])
    return there


def kinds(port: Port) -> list[tuple[str, int]]:
    return [(m.type, m.note) for m in port.sent if m.type.startswith("note")]


def test_each_note_is_let_go_of_after_the_next_began_and_the_last_at_the_end(port: Port) -> None:
    player = MidiNotes("conv", channel=3, velocity=77, transpose=-12)
    player.play(60.0, 3.0)
    player.play(62.0, 3.2)
    player.play(62.0, 3.2)
    player.close()
    assert kinds(port) == [
        ("note_on", 48),
        ("note_on", 50),
        ("note_off", 48),
        ("note_on", 50),
        ("note_off", 50),
    ]
    assert {m.channel for m in port.sent} == {2}
    assert port.sent[0].velocity == 77
    assert (port.sent[-1].control, port.sent[-1].value) == (123, 0)  # MIDI 1.0: all notes off
    assert port.closed
    player.close()


def test_what_midi_cannot_play_is_refused(port: Port) -> None:
    player = MidiNotes("conv", transpose=24)
    with pytest.raises(InputError, match="between keys"):
        player.play(60.5, 3.0)
    with pytest.raises(InputError, match="no MIDI note"):
        player.play(110.0, 7.0)
    with pytest.raises(InputError, match="no MIDI channel 17"):
        MidiNotes("conv", channel=17)
    assert kinds(port) == []
    player.close()


def test_a_port_that_is_gone_is_told_and_closing_is_still_in_peace(port: Port) -> None:
    player = MidiNotes("conv")
    player.play(60.0, 3.0)
    port.broken = True
    assert not player.alive
    with pytest.raises(InputError, match="is gone"):
        player.play(61.0, 3.1)
    player.close()
    assert port.closed


def test_a_port_is_meant_by_a_part_of_its_name_that_only_one_has(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    opened: list[str] = []

    class Way:
        names = staticmethod(lambda direction: ["Loft:1", "Loft:2", "Stairs:1"])
        open_out = staticmethod(opened.append)

    monkeypatch.setattr(midi_ports, "_ways", lambda: [Way])
    midi_ports.open_midi_out("stairs")
    midi_ports.open_midi_out("Loft:2")
    assert opened == ["Stairs:1", "Loft:2"]
    with pytest.raises(InputError, match="Several MIDI ports match “loft”"):
        midi_ports.open_midi_out("loft")
    with pytest.raises(InputError, match="There are: Loft:1; Loft:2; Stairs:1"):
        midi_ports.open_midi_out("Gull")


@pytest.mark.parametrize("fault", [ImportError("no such module"), OSError("no server")])
def test_a_way_that_is_broken_does_not_hide_the_other(
    monkeypatch: pytest.MonkeyPatch, fault: Exception
) -> None:
    class Broken:
        @staticmethod
        def names(direction: str) -> list[str]:
            raise fault

    class Whole:
        names = staticmethod(lambda direction: ["Loft:1"])

    monkeypatch.setattr(midi_ports, "_ways", lambda: [Broken, Whole])
    assert midi_ports.midi_outputs() == ["Loft:1"]
    monkeypatch.setattr(midi_ports, "_ways", lambda: [Broken, Broken])
    with pytest.raises(InputError, match="needs no MIDI works without"):
        midi_ports.midi_inputs()


def test_without_a_midi_system_one_sentence_says_so() -> None:
    # In a process of its own, as the port library keeps what it found; JACK is not started here.
    script = (
        "from pitchwright.bench.live.midi_ports import midi_outputs\n"
        "from pitchwright.errors import InputError\n"
        "try: print(midi_outputs())\n"
        "except InputError as refused: print(refused.sentence)"
    )
    said = subprocess.run(
        [sys.executable, "-c", script],
        env={"JACK_DEFAULT_SERVER": "nobody"},
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert "no MIDI system" in said.stdout
    assert said.stderr == ""  # the systems' own chatter is kept off the terminal
    assert "Install" in said.stdout


def test_the_stand_in_s_keys_hold_the_last_voltage_and_a_hand_comes_before_midi() -> None:
    keys = KeysDown(CvSource("Loft"))
    assert keys.cv_v() is None
    for message in (
        mido.Message("note_on", note=60),
        mido.Message("note_on", note=72),
        mido.Message("note_off", note=72),
        mido.Message("note_on", note=60, velocity=0),
    ):
        keys.message(message)
    assert keys.held() == ()
    assert keys.cv_v() == 3.0
    keys.press(36)
    keys.message(mido.Message("note_on", note=84))
    assert keys.cv_v() == 1.0
    keys.release()
    assert keys.cv_v() == 5.0
    keys.message(mido.Message("control_change", control=123, value=0))
    assert keys.held() == ()
