"""Messages: names, limits, files."""

import io

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitchwright.certificate.midi_tuning import (
    STEP_CENTS,
    bulk_dump,
    midi_file,
    note_changes,
    pitch_of_word,
    word_of_pitch,
)
from pitchwright.errors import InputError

PLAIN = [float(n) for n in range(128)]


@given(pitch=st.floats(0.0, 127.999))
def test_a_word_is_the_nearest_step(pitch: float) -> None:
    back = pitch_of_word(word_of_pitch(pitch))
    assert back is not None
    assert abs(back - pitch) * 100.0 <= STEP_CENTS / 2.0 + 1e-9


@pytest.mark.parametrize("pitch", [-0.1, 128.0, 127.99999, float("nan"), float("inf")])
def test_what_no_word_can_say(pitch: float) -> None:
    with pytest.raises(InputError, match="cannot write the pitch"):
        word_of_pitch(pitch)


def test_a_name_keeps_sixteen_plain_characters() -> None:
    assert bulk_dump(PLAIN, "Hérön in the pit at night")[6:22] == b"Heron in the pit"
    assert bulk_dump(PLAIN, "")[6:22] == b" " * 16


def test_a_dump_with_a_bank_is_one_byte_longer() -> None:
    dump = bulk_dump(PLAIN, "Heron", bank=3)
    assert dump[:7] == bytes.fromhex("F0 7E 7F 08 04 03 00")
    assert len(dump) == 409


def test_what_does_not_fit_a_byte_is_refused() -> None:
    with pytest.raises(InputError, match="device 128"):
        bulk_dump(PLAIN, "Heron", device=128)
    with pytest.raises(InputError, match="note -1"):
        note_changes({-1: 3.0})
    with pytest.raises(InputError, match="128 pitches, not 12"):
        bulk_dump(PLAIN[:12], "Heron")


def test_a_midi_file_carries_the_messages_unchanged() -> None:
    messages = (bulk_dump(PLAIN, "Heron"), *note_changes({60: 59.9}))
    read = mido.MidiFile(file=io.BytesIO(midi_file(messages, "Heron")))
    carried = [bytes(message.bin()) for message in read.tracks[0] if message.type == "sysex"]
    assert carried == list(messages)
    assert read.type == 0
