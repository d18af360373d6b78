"""Sound of one voice, block after block, with the phase track it was read from."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.practice.filter import BandNoise, FilterTone
from pitchwright.practice.noise import FrequencyNoise
from pitchwright.practice.oscillator import Oscillator
from pitchwright.practice.rig import Voice
from pitchwright.practice.waveforms import WaveTables
from pitchwright.units import ratio_of_cents

__all__ = ["CONTROL_SAMPLES", "VoiceSound"]

Array = NDArray[np.float64]

CONTROL_SAMPLES: Final = 64
"""Voltage and frequency are worked out once in so many samples; between, frequency is a line."""


class VoiceSound:
    """One voice as it sounds, from ``begin_s`` on; time only moves forward.

    Parameters
    ----------
    voice
        What sounds.
    temperature_c
        Temperature in degrees Celsius that it settles at.
    rate_hz
        True number of samples in a second.
    begin_s
        Session time of the first sample.
    rng
        Where chance comes from.
    """

    def __init__(
        self,
        voice: Voice,
        temperature_c: float,
        rate_hz: float,
        begin_s: float,
        rng: np.random.Generator,
    ) -> None:
        self._voice = voice
        self._temperature_c = temperature_c
        self._rate_hz = rate_hz
        self._rng = rng
        self._slow = FrequencyNoise(voice.oscillator.noise, rng)
        self._slow.cents_at(begin_s)
        self._tables = WaveTables(voice.waveform, rate_hz)
        tone = voice.tone
        self._filter = None if tone is None else (tone, BandNoise(tone, rate_hz, rng))
        self._phase_cycles = float(rng.uniform(0.0, voice.waveform.periods))

    @property
    def oscillator(self) -> Oscillator:
        """What makes the pitch, as it stands now; set it to turn its trimmers while it sounds."""
        return self._voice.oscillator

    @oscillator.setter
    def oscillator(self, oscillator: Oscillator) -> None:
        self._voice = replace(self._voice, oscillator=oscillator)

    @property
    def restless_cents(self) -> float:
        """What the oscillator does by itself at the end of the last block, in cents."""
        return self._slow.cents

    def block(self, cv_v: Array, t_s: Array, loudness: Array) -> tuple[Array, Array]:
        """Sound the next block.

        Parameters
        ----------
        cv_v, t_s
            Control voltage and session time at the block's control points, first and last
            included: shape (blocks of CONTROL_SAMPLES + 1,).
        loudness
            0 to 1 at each sample, shape (count,).

        Returns
        -------
        samples : numpy.ndarray
            Shape (count,).
        cycles : numpy.ndarray
            Phase in periods before each sample and after the last, shape (count + 1,).
        """
        count = loudness.size
        played_hz = self._voice.oscillator.f_hz(cv_v, t_s, self._temperature_c)
        f_hz = self._restless(played_hz, t_s)
        cycles = self._track(f_hz, count)
        if not loudness.any():
            return np.zeros(count), cycles
        if self._filter is None:
            samples = self._from_tables(played_hz, cycles[:-1])
        else:
            samples = self._from_filter(f_hz, cycles[:-1], *self._filter)
        return samples * (loudness * self._voice.level), cycles

    def _restless(self, played_hz: Array, t_s: Array) -> Array:
        before = self._slow.cents
        after = self._slow.track(played_hz.size - 1, (t_s[-1] - t_s[0]) / (t_s.size - 1))
        return played_hz * ratio_of_cents(np.concatenate(([before], after)))

    def _track(self, f_hz: Array, count: int) -> Array:
        middles = (np.arange(CONTROL_SAMPLES) + 0.5) / CONTROL_SAMPLES
        advance = (f_hz[:-1, None] + np.diff(f_hz)[:, None] * middles).ravel() / self._rate_hz
        jitter = self._voice.oscillator.noise.cycle_jitter
        if jitter > 0.0:
            # A period of 1/f is off by jitter/f; its samples each have their share of the variance.
            chance = self._rng.standard_normal(advance.size, dtype=np.float32)
            advance += jitter * np.sqrt(advance) * chance
        cycles = np.empty(count + 1)
        cycles[0] = self._phase_cycles
        np.cumsum(advance[:count], out=cycles[1:])
        cycles[1:] += self._phase_cycles
        self._phase_cycles = float(cycles[-1] % self._voice.waveform.periods)
        return cycles

    def _from_tables(self, played_hz: Array, cycles: Array) -> Array:
        # Without the noise, so that a note does not flicker between two numbers of harmonics.
        harmonics = self._tables.harmonics_for(np.maximum(played_hz[:-1], played_hz[1:]))
        samples = np.empty(cycles.size)
        turns = np.flatnonzero(np.diff(harmonics)) + 1
        edges = [0, *(turns * CONTROL_SAMPLES).tolist(), cycles.size]
        for begin, end in pairwise(edges):
            count = int(harmonics[begin // CONTROL_SAMPLES])
            samples[begin:end] = self._tables.samples(cycles[begin:end], count)
        return samples

    def _from_filter(self, f_hz: Array, cycles: Array, tone: FilterTone, band: BandNoise) -> Array:
        in_phase, quadrature = band.block(float(f_hz.mean()), cycles.size)
        if f_hz.max() >= 0.5 * self._rate_hz:
            return np.zeros(cycles.size)
        amplitude = np.repeat(tone.amplitude(f_hz[:-1]), CONTROL_SAMPLES)[: cycles.size]
        angle = 2.0 * np.pi * cycles
        return np.asarray((amplitude + in_phase) * np.sin(angle) + quadrature * np.cos(angle))
