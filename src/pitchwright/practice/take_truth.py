"""The truth about a take, as it is written beside the sound."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path

from pitchwright.practice.truth import TrueModel

__all__ = ["NoteTruth", "OscillatorTruth", "TakeTruth", "truth_path"]


@dataclass(frozen=True, slots=True)
class NoteTruth:
    """What one channel really played for one note.

    Attributes
    ----------
    channel
        Counted from 1.
    note
        MIDI note number that was asked for.
    cv_v
        Nominal control voltage of that note in volts.
    sent_v
        What the source really settled at.
    start_s, end_s
        Where the note lies in the file.
    settled_s
        From when on voltage and loudness stand still; not before ``end_s`` where they never do.
    f_hz
        True mean frequency from ``settled_s`` to ``end_s``; None where it never settles.
    cents
        ``f_hz`` against equal temperament with A4 = 440 Hz; None likewise.
    mistake
        Whether the note was not meant to be played.
    """

    channel: int
    note: float
    cv_v: float
    sent_v: float
    start_s: float
    end_s: float
    settled_s: float
    f_hz: float | None
    cents: float | None
    mistake: bool


@dataclass(frozen=True, slots=True)
class OscillatorTruth:
    """What one channel is: its name, waveform and true model, the source's part included."""

    channel: int
    name: str
    waveform: str
    model: TrueModel


@dataclass(frozen=True, slots=True)
class TakeTruth:
    """The truth about a take.

    Attributes
    ----------
    about
        A sentence saying that the data are invented.
    source
        Name of the source that played.
    rate_hz, frames, clock_ppm
        Nominal sample rate, length in samples, and how much too fast the clock ran: a reader
        that believes the nominal rate hears everything so many parts per million too low.
    temperature_c, seed
        Temperature in degrees Celsius, and the seed of all chance.
    oscillators
        One for each channel.
    notes
        In order of time, channel by channel within a note.
    """

    about: str
    source: str
    rate_hz: int
    frames: int
    clock_ppm: float
    temperature_c: float
    seed: int
    oscillators: tuple[OscillatorTruth, ...]
    notes: tuple[NoteTruth, ...]

    def to_json(self) -> str:
        """Return the whole truth as JSON text, one object with these attributes."""
        return json.dumps(asdict(self), indent=1, allow_nan=False) + "\n"


def truth_path(path: Path) -> Path:
    """Where the truth of the take at ``path`` lies: ``take.truth.json`` beside ``take.wav``."""
    return path.with_suffix(".truth.json")
