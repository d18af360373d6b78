"""A take: notes played on the practice rig, written as sound with the truth beside it.

The sound is made and written in blocks, so that hours need no more memory than seconds. Both
files appear whole or not at all.
"""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import numpy as np
import soundfile

from pitchwright.errors import InputError
from pitchwright.practice.rig import Recorder, Rig
from pitchwright.practice.schedule import PlayedNote, Schedule
from pitchwright.practice.session import Session
from pitchwright.practice.take_truth import OscillatorTruth, TakeTruth, truth_path
from pitchwright.practice.truth import true_model
from pitchwright.writing import whole_file, write_whole

__all__ = ["write_take"]

_TAIL_S: Final = 0.5
_LIMIT_BYTES: Final = 2**32 - 2**16
"""What the 32-bit sizes of WAV and AIFF hold, with room for the header."""
_BYTES: Final = {"PCM_16": 2, "PCM_24": 3, "PCM_32": 4, "FLOAT": 4}
_FORMATS: Final = {".wav": "WAV", ".flac": "FLAC", ".aiff": "AIFF", ".aif": "AIFF"}


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
    session = Session(rig, schedule, recorder, true_rate_hz, begin_s, np.random.default_rng(seed))
    with whole_file(path) as sound_path:
        file = _open(path, sound_path, recorder, len(rig.voices), frames)
        try:
            for samples, done in session.blocks(frames):
                with _full_disk_said():
                    file.write(samples)
                if progress is not None:
                    progress(done)
        finally:
            with _full_disk_said():
                file.close()
        truth = TakeTruth(
            about="A take of the practice rig: instruments and values are invented.",
            source=playing.name,
            rate_hz=recorder.rate_hz,
            frames=frames,
            clock_ppm=recorder.clock_ppm,
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
        write_whole(truth_path(path), truth.to_json())
    return truth


def _open(
    path: Path, part: Path, recorder: Recorder, channels: int, frames: int
) -> soundfile.SoundFile:
    kind = _FORMATS.get(path.suffix.lower())
    if kind is None:
        raise InputError("A take cannot have this ending", str(path), "Use .wav, .flac or .aiff")
    size = frames * channels * _BYTES[recorder.subtype]
    if size > _LIMIT_BYTES:
        # RF64 (EBU Tech 3306) is WAV with sizes of 64 bits.
        kind = {"WAV": "RF64", "AIFF": ""}.get(kind, kind)
    if not kind:
        raise InputError("The take is too long for AIFF", str(path), "Use .wav or .flac")
    free = shutil.disk_usage(part.parent).free
    if size > free:
        raise InputError(
            f"The take needs {size / 1e6:.0f} MB and {free / 1e6:.0f} MB are free",
            where=str(path),
            do="Make room, or write it elsewhere",
        )
    try:
        return soundfile.SoundFile(
            part, "w", recorder.rate_hz, channels, subtype=recorder.subtype, format=kind
        )
    except (ValueError, soundfile.LibsndfileError) as fault:
        raise InputError(
            f"{kind} cannot hold this take (channels: {channels}, samples: {recorder.subtype}, "
            f"{recorder.rate_hz} a second)",
            where=str(path),
            do="Use .wav, or PCM_24 at a usual rate",
        ) from fault


@contextmanager
def _full_disk_said() -> Iterator[None]:
    """Turn what soundfile raises when a write comes up short into what Python would raise."""
    try:
        yield
    except (soundfile.LibsndfileError, AssertionError) as fault:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC)) from fault
