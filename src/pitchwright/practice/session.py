"""All voices of a rig playing at once, recorded block after block, cycles counted note by note.

The true frequency of a note is the number of cycles its phase track went through, so drift,
jitter and wander are in it as they happened.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.practice.render import CONTROL_SAMPLES, VoiceSound
from pitchwright.practice.rig import Recorder, Rig
from pitchwright.practice.schedule import Schedule
from pitchwright.practice.take_truth import NoteTruth
from pitchwright.units import cents_between, cv_of_note, note_to_hz

__all__ = ["Session"]

Array = NDArray[np.float64]

_BLOCK_SAMPLES: Final = 512 * CONTROL_SAMPLES
_FULL_SCALE_RMS: Final = 1.0 / np.sqrt(2.0)


class Session:
    """All voices of a rig playing a schedule, heard by a recorder.

    Parameters
    ----------
    rig, schedule, recorder
        What plays, what is played, and what hears it.
    rate_hz
        True number of samples in a second.
    begin_s
        Session time of the first sample.
    rng
        Where chance comes from.
    """

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
