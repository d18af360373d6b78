"""MIDI Tuning Standard messages, byte for byte.

Source: *MIDI 1.0 Detailed Specification*, section MIDI Tuning, with the bank extension CA-020. A
pitch is three 7-bit bytes: a semitone, and a fraction of it in 14 bits, so one step is 100/16384
cent. The defining formula is followed, not the specification's printed examples: about half of
those do not agree with it.
"""

from __future__ import annotations

import io
import math
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from functools import reduce
from operator import xor
from typing import Final

from pitchwright.errors import InputError

__all__ = [
    "ALL_DEVICES",
    "STEP_CENTS",
    "bulk_dump",
    "midi_file",
    "note_changes",
    "pitch_of_word",
    "word_of_pitch",
]

STEP_CENTS: Final = 100.0 / 16384.0
"""One step of a frequency word, 0.0061 cent."""
ALL_DEVICES: Final = 0x7F

_TOP_STEP = 127 * 16384 + 16382
"""7F 7F 7E; one step higher, 7F 7F 7F, says “no change”."""
_MOST_CHANGES = 127
_NAME_LENGTH = 16


def word_of_pitch(pitch: float) -> bytes:
    """Frequency word of a fractional MIDI note, to the nearest step.

    Raises
    ------
    InputError
        Where the standard cannot write it: below note 0 or above 127 and 16382/16384.
    """
    step = round(pitch * 16384.0) if math.isfinite(pitch) else -1
    if not 0 <= step <= _TOP_STEP:
        raise InputError(
            f"The MIDI Tuning Standard cannot write the pitch {pitch:.4f}",
            do="Keep notes between 0 and 127.9999",
        )
    return bytes((step >> 14, step >> 7 & 0x7F, step & 0x7F))


def pitch_of_word(word: bytes) -> float | None:
    """Fractional MIDI note of a frequency word; None for “no change”."""
    semitone, high, low = word
    if word == b"\x7f\x7f\x7f":
        return None
    return semitone + (high << 7 | low) / 16384.0


def bulk_dump(
    pitches: Sequence[float],
    name: str,
    device: int = ALL_DEVICES,
    program: int = 0,
    bank: int | None = None,
) -> bytes:
    """A whole tuning: F0 7E id 08 01 tt, name, 128 words, checksum, F7; with a bank 08 04 bb tt.

    Parameters
    ----------
    pitches
        Fractional MIDI note that each of the notes 0 to 127 shall play, shape (128,).
    name
        Of the tuning: 16 ASCII characters are kept.
    device, program, bank
        Device number (127: all), tuning program and bank, each 0 to 127.
    """
    if len(pitches) != 128:
        raise InputError(f"A tuning has 128 pitches, not {len(pitches)}")
    kind = (0x01,) if bank is None else (0x04, _byte(bank, "bank"))
    body = bytes((0x7E, _byte(device, "device"), 0x08, *kind, _byte(program, "program")))
    body += _ascii(name) + b"".join(word_of_pitch(pitch) for pitch in pitches)
    return b"\xf0" + body + bytes((reduce(xor, body) & 0x7F,)) + b"\xf7"


def note_changes(
    pitches: Mapping[int, float],
    device: int = ALL_DEVICES,
    program: int = 0,
    bank: int | None = None,
) -> tuple[bytes, ...]:
    """Single-note changes in real time: F0 7F id 08 02 tt ll, then ll × (key, word), F7.

    Parameters
    ----------
    pitches
        Fractional MIDI note that each of these notes shall play.
    device, program, bank
        As in `bulk_dump`; with a bank the message is 08 07 bb tt.

    Returns
    -------
    tuple of bytes
        As many messages as needed: one carries at most 127 changes.
    """
    kind = (0x02,) if bank is None else (0x07, _byte(bank, "bank"))
    start = (0xF0, 0x7F, _byte(device, "device"), 0x08, *kind, _byte(program, "program"))
    changes = [
        bytes((_byte(note, "note"),)) + word_of_pitch(pitch)
        for note, pitch in sorted(pitches.items())
    ]
    return tuple(
        bytes((*start, len(part))) + b"".join(part) + b"\xf7"
        for part in (
            changes[at : at + _MOST_CHANGES] for at in range(0, len(changes), _MOST_CHANGES)
        )
    )


def midi_file(messages: Iterable[bytes], name: str) -> bytes:
    """A standard MIDI file that plays these messages one after the other, a beat apart."""
    import mido

    track = mido.MidiTrack([mido.MetaMessage("track_name", name=_ascii(name).decode().strip())])
    for place, message in enumerate(messages):
        track.append(mido.Message("sysex", data=message[1:-1], time=480 if place else 0))
    track.append(mido.MetaMessage("end_of_track", time=480))
    content = io.BytesIO()
    mido.MidiFile(type=0, ticks_per_beat=480, tracks=[track]).save(file=content)
    return content.getvalue()


def _byte(number: int, what: str) -> int:
    if not 0 <= number <= 127:
        raise InputError(f"The {what} {number} is outside 0 to 127", do="Choose one inside")
    return number


def _ascii(name: str) -> bytes:
    """16 characters of ASCII, accents dropped, blanks behind."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore")
    printable = bytes(code for code in plain if 0x20 <= code < 0x7F)
    return printable[:_NAME_LENGTH].ljust(_NAME_LENGTH)
