"""MIDI Tuning Standard: its formula, its byte layouts, and a reader that is not ours.

Source: *MIDI 1.0 Detailed Specification*, section MIDI Tuning, with CA-020 (bank and dump
extensions). Layouts read in the MIDI association's pages and, in full, in the documentation of a
synthesizer that implements them. Several of the printed frequency examples disagree with the
defining formula; both columns stand below, and ours is held to the formula. Hashes of whole dumps
were computed by a separate program.

Reader: libfluidsynth, through ctypes.
"""

import ctypes
import ctypes.util
import hashlib
import os
from collections.abc import Iterator

import numpy as np
import pytest

from pitchwright.certificate.midi_tuning import (
    STEP_CENTS,
    bulk_dump,
    note_changes,
    pitch_of_word,
    word_of_pitch,
)
from pitchwright.units import note_to_hz

# Word, frequency as printed (Hz), as the formula gives it, whether the two agree when rounded.
EXAMPLES = (
    ("00 00 00", 8.1758, 8.175799, True),
    ("00 00 01", 8.2104, 8.175828, False),
    ("01 00 00", 8.6620, 8.661957, True),
    ("0C 00 00", 16.3516, 16.351598, True),
    ("3C 00 00", 261.6256, 261.625565, True),
    ("3D 00 00", 277.1827, 277.182631, False),
    ("44 7F 7F", 439.9984, 439.998449, True),
    ("45 00 00", 440.0000, 440.0, True),
    ("78 00 00", 8372.0190, 8372.01809, False),
    ("78 00 01", 8372.0630, 8372.047605, False),
    ("7F 00 00", 12543.8800, 12543.853951, False),
    ("7F 00 01", 12543.9200, 12543.898175, False),
    ("7F 7F 7E", 13289.7300, 13289.656616, False),
)


@pytest.mark.parametrize(("word", "printed_hz", "formula_hz", "agree"), EXAMPLES)
def test_words_follow_the_formula_not_the_examples(
    word: str, printed_hz: float, formula_hz: float, agree: bool
) -> None:
    pitch = pitch_of_word(bytes.fromhex(word))
    assert pitch is not None
    assert note_to_hz(pitch) == pytest.approx(formula_hz, abs=6e-7 * max(1.0, formula_hz / 1000))
    assert (abs(round(note_to_hz(pitch), 4) - printed_hz) < 5e-5) is agree
    assert word_of_pitch(pitch) == bytes.fromhex(word)


def test_the_unit_and_no_change() -> None:
    assert STEP_CENTS == 0.006103515625
    assert pitch_of_word(b"\x7f\x7f\x7f") is None


@pytest.mark.parametrize(
    ("note", "cents", "message"),
    [
        (69, 50.0, "F0 7F 7F 08 02 00 01 45 45 40 00 F7"),
        (60, -1.0, "F0 7F 7F 08 02 00 01 3C 3B 7E 5C F7"),
    ],
)
def test_single_note_changes(note: int, cents: float, message: str) -> None:
    assert note_changes({note: note + cents / 100.0}) == (bytes.fromhex(message),)


@pytest.mark.parametrize(
    ("device", "program", "name", "cents", "checksum", "sha256"),
    [
        (0x00, 0, " " * 16, 0.0, 0x77, "8603cd2d7663"),
        (0x7F, 5, "EQUAL TEMPERAMNT", 0.0, 0x6C, "3e4eeb2a6edc"),
        (0x10, 1, "PLUS 12.5 CENTS ", 12.5, 0x0B, "f804d01e7c32"),
    ],
)
def test_whole_dumps(
    device: int, program: int, name: str, cents: float, checksum: int, sha256: str
) -> None:
    dump = bulk_dump([n + cents / 100.0 for n in range(128)], name, device, program)
    assert len(dump) == 408
    assert dump[-2] == checksum
    assert hashlib.sha256(dump).hexdigest().startswith(sha256)


class Reader:
    """As much of libfluidsynth as reads a tuning."""

    def __init__(self, library: ctypes.CDLL) -> None:
        self.lib = library
        for name in ("new_fluid_settings", "new_fluid_synth"):
            getattr(library, name).restype = ctypes.c_void_p
        library.new_fluid_synth.argtypes = [ctypes.c_void_p]
        library.delete_fluid_synth.argtypes = [ctypes.c_void_p]
        library.delete_fluid_settings.argtypes = [ctypes.c_void_p]
        library.fluid_settings_setint.argtypes = [ctypes.c_void_p, ctypes.c_char_p, ctypes.c_int]
        library.fluid_synth_sysex.argtypes = [
            ctypes.c_void_p,
            ctypes.c_char_p,
            ctypes.c_int,
            ctypes.c_char_p,
            ctypes.POINTER(ctypes.c_int),
            ctypes.POINTER(ctypes.c_int),
            ctypes.c_int,
        ]
        library.fluid_synth_tuning_dump.argtypes = [
            ctypes.c_void_p,
            ctypes.c_int,
            ctypes.c_int,
            ctypes.c_char_p,
            ctypes.c_int,
            ctypes.POINTER(ctypes.c_double),
        ]
        self.settings = library.new_fluid_settings()
        library.fluid_settings_setint(self.settings, b"synth.device-id", 0x10)
        self.synth = library.new_fluid_synth(self.settings)

    def close(self) -> None:
        self.lib.delete_fluid_synth(self.synth)
        self.lib.delete_fluid_settings(self.settings)

    def send(self, message: bytes) -> bytes:
        """A message, F0 and F7 taken off as the library wants it; what it answers, likewise."""
        answer = ctypes.create_string_buffer(1024)
        length, handled = ctypes.c_int(1024), ctypes.c_int(0)
        body = message[1:-1]
        code = self.lib.fluid_synth_sysex(
            self.synth, body, len(body), answer, ctypes.byref(length), ctypes.byref(handled), 0
        )
        assert code == 0
        assert handled.value
        return answer.raw[: length.value]

    def tuning_cents(self, bank: int, program: int) -> np.ndarray:
        pitches = (ctypes.c_double * 128)()
        name = ctypes.create_string_buffer(32)
        assert self.lib.fluid_synth_tuning_dump(self.synth, bank, program, name, 32, pitches) == 0
        return np.array(pitches)


@pytest.fixture
def reader() -> Iterator[Reader]:
    name = ctypes.util.find_library("fluidsynth") or "libfluidsynth.so.3"
    try:
        library = ctypes.CDLL(name)
    except OSError:
        reason = "needs libfluidsynth (apt-get install fluidsynth)"
        if os.environ.get("PITCHWRIGHT_REQUIRE") == "all":
            pytest.fail(reason)
        pytest.skip(reason)
    opened = Reader(library)
    yield opened
    opened.close()


HALF_A_STEP = STEP_CENTS / 2.0 + 1e-9


def wanted() -> np.ndarray:
    """A tuning with something to it, ends included."""
    notes = np.arange(128.0)
    cents = np.random.default_rng(12).uniform(-60.0, 60.0, 128)
    return np.asarray(np.clip(notes + cents / 100.0, 0.0, 127.9998))


def test_single_note_changes_are_read_back(reader: Reader) -> None:
    pitches = wanted()
    messages = note_changes(dict(enumerate(map(float, pitches))), device=0x10, program=3)
    assert [message[6] for message in messages] == [127, 1]
    for message in messages:
        reader.send(message)
    read = reader.tuning_cents(0, 3)
    assert np.abs(read - 100.0 * pitches).max() <= HALF_A_STEP


def test_changes_with_a_bank_are_read_back(reader: Reader) -> None:
    pitches = {60: 59.99, 61: 61.25, 62: 62.0}
    for message in note_changes(pitches, device=0x10, program=7, bank=2):
        reader.send(message)
    read = reader.tuning_cents(2, 7)
    assert np.abs(read[60:63] - 100.0 * np.array(list(pitches.values()))).max() <= HALF_A_STEP


@pytest.mark.parametrize("bank", [None, 4])
def test_a_dump_it_sends_is_the_dump_we_write(reader: Reader, bank: int | None) -> None:
    """It reads no bulk dump, but answers a request with one: ours, but for name and checksum.

    To a request with a bank it answers with the layout of CA-020 under the old number, 01 for 04.
    """
    pitches = wanted()
    for message in note_changes(dict(enumerate(map(float, pitches))), 0x10, 9, bank):
        reader.send(message)
    theirs = reader.send(
        bytes.fromhex("F0 7E 10 08 00 09 F7" if bank is None else "F0 7E 10 08 03 04 09 F7")
    )
    ours = bulk_dump(list(map(float, pitches)), "ours", 0x10, 9, bank)[1:-1]
    start = 5 if bank is None else 6
    assert len(theirs) == len(ours)
    assert theirs[:3] == ours[:3]
    assert theirs[4:start] == ours[4:start]
    # 128 words; a pitch half-way between two steps may be rounded either way.
    their_words, our_words = (dump[start + 16 : -1] for dump in (theirs, ours))
    assert len(their_words) == 3 * 128
    for at in range(0, 3 * 128, 3):
        theirs_at, ours_at = (
            w[at] * 16384 + w[at + 1] * 128 + w[at + 2] for w in (their_words, our_words)
        )
        assert abs(theirs_at - ours_at) <= 1
