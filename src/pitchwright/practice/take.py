"""A take: notes played on the practice rig, written as sound with the truth beside it.

The sound is made and written in blocks, so that hours need no more memory than seconds. Both
files are written aside and renamed into place when all is well.
"""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Final

import numpy as np
import soundfile
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.practice.render import CONTROL_SAMPLES, VoiceSound
from pitchwright.practice.rig import Recorder, Rig
from pitchwright.practice.schedule import PlayedNote, Schedule
from pitchwright.practice.truth import TrueModel, true_model
from pitchwright.units import cents_between, cents_from_ppm, cv_of_note, note_to_hz

__all__ = ["NoteTruth", "OscillatorTruth", "TakeTruth", "truth_path", "write_take"]

Array = NDArray[np.float64]

_BLOCK_SAMPLES: Final = 512 * CONTROL_SAMPLES
_TAIL_S: Final = 0.5
_WAV_LIMIT_BYTES: Final = 2**32 - 2**16
_BYTES: Final = {"PCM_16": 2, "PCM_24": 3, "PCM_32": 4, "FLOAT": 4}
_FORMATS: Final = {".wav": "WAV", ".flac": "FLAC", ".aiff": "AIFF", ".aif": "AIFF"}
_FULL_SCALE_RMS: Final = 1.0 / np.sqrt(2.0)


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
        Nominal sample rate, length in samples, and how much too fast the clock ran.
    clock_cents
        How much sharper than the sound the file is for a reader that believes its sample rate.
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
    clock_cents: float
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


def write_take(
    path: Path,
    rig: Rig,
    notes: Sequence[PlayedNote],
    *,
    source: str | None = None,
    recorder: Recorder | None = None,
    seed: int = 0,
    begin_s: float = 0.0,
    progress: Callable[[float], None] | None = None,
) -> TakeTruth:
    """Play notes on a rig and write the sound, one channel a voice, and the truth beside it.

    Parameters
    ----------
    path
        Sound file to write: .wav (RF64 where it is too long for plain WAV), .flac or .aiff.
    rig
        What is played on.
    notes
        In order of time, without overlap.
    source
        Name of the source that plays; the rig's first by default.
    recorder
        How it is recorded.
    seed
        Seed of all chance: the same call writes the same samples.
    begin_s
        Session time of the first sample: warm-up and drift have gone on since 0.
    progress
        Called now and then with the share done, 0 to 1.

    Returns
    -------
    TakeTruth
        What was also written to :func:`truth_path`.

    Raises
    ------
    InputError
        Where the notes cannot be played or the files cannot be written; nothing is left behind.
    """
    recorder = recorder or Recorder()
    playing = rig.source(source) if source else rig.sources[0]
    schedule = Schedule(notes, playing)
    true_rate_hz = recorder.rate_hz * (1.0 + recorder.clock_ppm * 1e-6)
    frames = int(np.ceil((schedule.notes[-1].end_s + _TAIL_S) * true_rate_hz))
    session = _Session(rig, schedule, recorder, true_rate_hz, begin_s, np.random.default_rng(seed))
    with _aside(path) as sound_path, _aside(truth_path(path)) as text_path:
        with _open(path, sound_path, recorder, len(rig.voices), frames) as file:
            for samples, done in session.blocks(frames):
                _write(file, samples, path)
                if progress is not None:
                    progress(done)
        truth = TakeTruth(
            about="A take of the practice rig: instruments and values are invented.",
            source=playing.name,
            rate_hz=recorder.rate_hz,
            frames=frames,
            clock_ppm=recorder.clock_ppm,
            clock_cents=-cents_from_ppm(recorder.clock_ppm),
            temperature_c=rig.temperature_c,
            seed=seed,
            oscillators=tuple(
                OscillatorTruth(
                    channel,
                    voice.oscillator.name,
                    "filter" if voice.tone else str(voice.waveform.kind),
                    true_model(voice.oscillator, playing, begin_s, rig.temperature_c),
                )
                for channel, voice in enumerate(rig.voices, start=1)
            ),
            notes=session.note_truths(),
        )
        text_path.write_text(truth.to_json(), encoding="utf-8")
    return truth


class _Session:
    """All voices playing at once, and the count of their cycles in each note."""

    def __init__(
        self,
        rig: Rig,
        schedule: Schedule,
        recorder: Recorder,
        rate_hz: float,
        begin_s: float,
        rng: np.random.Generator,
    ) -> None:
        self._schedule = schedule
        self._recorder = recorder
        self._rate_hz = rate_hz
        self._begin_s = begin_s
        self._rng, *chances = rng.spawn(1 + len(rig.voices))
        self._voices = [
            VoiceSound(voice, rig.temperature_c, rate_hz, begin_s, chance)
            for voice, chance in zip(rig.voices, chances, strict=True)
        ]
        self._sent_v = [schedule.source.cv_v(note.note) for note in schedule.notes]
        settled_s = np.array([schedule.settled_s(i) for i in range(len(schedule.notes))])
        end_s = np.array([note.end_s for note in schedule.notes])
        self._first = np.ceil(settled_s * rate_hz).astype(np.int64)
        self._past = np.maximum(np.floor(end_s * rate_hz).astype(np.int64), self._first)
        self._cycles = np.zeros((len(rig.voices), len(schedule.notes)))

    def blocks(self, frames: int) -> Iterator[tuple[Array, float]]:
        """Yield samples of shape (count, channels) and the share done."""
        for begin in range(0, frames, _BLOCK_SAMPLES):
            count = min(_BLOCK_SAMPLES, frames - begin)
            points = begin + CONTROL_SAMPLES * np.arange(-(-count // CONTROL_SAMPLES) + 1)
            t_s = points / self._rate_hz
            cv_v = self._schedule.cv_v(t_s)
            loudness = self._schedule.loudness((begin + np.arange(count)) / self._rate_hz)
            samples = np.empty((count, len(self._voices)))
            for channel, voice in enumerate(self._voices):
                samples[:, channel], cycles = voice.block(cv_v, self._begin_s + t_s, loudness)
                self._count(channel, begin, cycles)
            yield self._recorded(samples, begin), (begin + count) / frames

    def note_truths(self) -> tuple[NoteTruth, ...]:
        """Return the truth of every note and channel, once all blocks have been made."""
        truths = []
        for index, note in enumerate(self._schedule.notes):
            span = int(self._past[index] - self._first[index])
            for channel in range(len(self._voices)):
                f_hz = float(self._cycles[channel, index]) * self._rate_hz / span if span else None
                truths.append(
                    NoteTruth(
                        channel=channel + 1,
                        note=note.note,
                        cv_v=cv_of_note(note.note),
                        sent_v=self._sent_v[index],
                        start_s=note.start_s,
                        end_s=note.end_s,
                        settled_s=self._schedule.settled_s(index),
                        f_hz=f_hz,
                        cents=None if f_hz is None else cents_between(f_hz, note_to_hz(note.note)),
                        mistake=note.mistake,
                    )
                )
        return tuple(truths)

    def _count(self, channel: int, begin: int, cycles: Array) -> None:
        end = begin + cycles.size - 1
        from_note = int(np.searchsorted(self._past, begin, side="right"))
        to_note = int(np.searchsorted(self._first, end, side="left"))
        for index in range(from_note, to_note):
            first = max(int(self._first[index]), begin) - begin
            past = max(min(int(self._past[index]), end) - begin, first)
            self._cycles[channel, index] += cycles[past] - cycles[first]

    def _recorded(self, samples: Array, begin: int) -> Array:
        recorder = self._recorder
        if recorder.crosstalk_db is not None and samples.shape[1] > 1:
            samples += 10.0 ** (recorder.crosstalk_db / 20.0) * np.roll(samples, 1, axis=1)
        if recorder.hum_dbfs is not None:
            angle = 2.0 * np.pi * recorder.mains_hz / self._rate_hz
            hum = np.sin(angle * (begin + np.arange(samples.shape[0])))
            samples += 10.0 ** (recorder.hum_dbfs / 20.0) * hum[:, None]
        if recorder.noise_dbfs is not None:
            rms = 10.0 ** (recorder.noise_dbfs / 20.0) * _FULL_SCALE_RMS
            samples += self._rng.standard_normal(samples.shape, dtype=np.float32) * np.float32(rms)
        return samples


@contextmanager
def _aside(path: Path) -> Iterator[Path]:
    """Yield a file beside ``path`` that becomes it on success and vanishes on any failure."""
    if path.is_dir():
        raise InputError("A take cannot be written there: it is a folder", where=str(path))
    try:
        handle, name = tempfile.mkstemp(
            dir=path.parent, prefix=f".{path.name[:100]}.", suffix=".part"
        )
        os.close(handle)
    except OSError as fault:
        raise _cannot_write(path, fault) from fault
    part = Path(name)
    try:
        yield part
        # mkstemp lets only the owner in; a take is an ordinary file.
        mask = os.umask(0)
        os.umask(mask)
        part.chmod(0o666 & ~mask)
        part.replace(path)
    except OSError as fault:
        raise _cannot_write(path, fault) from fault
    finally:
        part.unlink(missing_ok=True)


def _open(
    path: Path, part: Path, recorder: Recorder, channels: int, frames: int
) -> soundfile.SoundFile:
    kind = _FORMATS.get(path.suffix.lower())
    if kind is None:
        raise InputError("A take cannot have this ending", str(path), "Use .wav, .flac or .aiff")
    size = frames * channels * _BYTES.get(recorder.subtype, 4)
    free = shutil.disk_usage(part.parent).free
    if size > free:
        raise InputError(
            f"The take needs {size / 1e6:.0f} MB and {free / 1e6:.0f} MB are free",
            where=str(path),
            do="Make room, or write it elsewhere",
        )
    if kind == "WAV" and size > _WAV_LIMIT_BYTES:
        kind = "RF64"
    if not soundfile.check_format(kind, recorder.subtype):
        raise InputError(
            f"{path.suffix} cannot hold samples of the kind {recorder.subtype}",
            where=str(path),
            do="Use PCM_16 or PCM_24",
        )
    try:
        return soundfile.SoundFile(
            part, "w", recorder.rate_hz, channels, subtype=recorder.subtype, format=kind
        )
    except soundfile.LibsndfileError as fault:
        raise _cannot_write(path, fault) from fault


def _write(file: soundfile.SoundFile, samples: Array, path: Path) -> None:
    try:
        file.write(samples)
    except (soundfile.LibsndfileError, AssertionError, OSError) as fault:
        # A short write is an assertion in soundfile: the disk is full.
        raise _cannot_write(path, fault) from fault


def _cannot_write(path: Path, fault: Exception) -> InputError:
    reason = fault.strerror if isinstance(fault, OSError) and fault.strerror else "the disk is full"
    return InputError(
        f"The take cannot be written ({reason})",
        where=str(path),
        do="Choose a folder that exists, is yours to write in and has room",
    )
