"""Sound of one voice: the size of its jitter, the continuity of its blocks."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from pitchwright.practice import FilterTone, Noise, Oscillator, Voice, Waveform, WaveformKind
from pitchwright.practice.render import CONTROL_SAMPLES, VoiceSound

RATE_HZ = 48000.0
Samples = NDArray[np.float64]


def sounded(voice: Voice, cv_v: float, blocks: int, intervals: int) -> tuple[Samples, Samples]:
    """All samples, and the phase at each, unwrapped over the blocks."""
    sound = VoiceSound(voice, 25.0, RATE_HZ, 0.0, np.random.default_rng(4))
    samples, cycles = [], [np.zeros(1)]
    count = intervals * CONTROL_SAMPLES
    for block in range(blocks):
        t_s = (block * count + CONTROL_SAMPLES * np.arange(intervals + 1)) / RATE_HZ
        part, phase = sound.block(np.full(t_s.size, cv_v), t_s, np.ones(count))
        samples.append(part)
        cycles.append(phase[1:] - phase[0] + cycles[-1][-1])
    return np.concatenate(samples), np.concatenate(cycles)


def test_each_period_is_off_by_the_jitter_independently() -> None:
    jitter = 0.003
    voice = Voice(Oscillator("Wren", noise=Noise(cycle_jitter=jitter)))
    _, cycles = sounded(voice, 2.0, blocks=20, intervals=512)
    starts = np.interp(np.arange(1, int(cycles[-1])), cycles, np.arange(cycles.size))
    periods = np.diff(starts)
    assert np.std(periods) / np.mean(periods) == pytest.approx(jitter, rel=0.03)
    off = periods - periods.mean()
    # Reading a crossing between two samples ties neighbours together a little.
    assert abs(np.mean(off[1:] * off[:-1]) / np.var(off)) < 0.05


def test_blocks_do_not_change_the_sound() -> None:
    voice = Voice(Oscillator("Wren"), Waveform(WaveformKind.SUB_OCTAVE))
    whole, _ = sounded(voice, 2.3, blocks=1, intervals=40)
    parts, _ = sounded(voice, 2.3, blocks=8, intervals=5)
    np.testing.assert_allclose(parts, whole, atol=1e-9)


def test_a_filter_above_half_the_rate_does_not_fold_back() -> None:
    voice = Voice(Oscillator("Bittern"), tone=FilterTone())
    heard, _ = sounded(voice, 9.3, blocks=1, intervals=10)  # 20.6 kHz
    unheard, _ = sounded(voice, 9.7, blocks=1, intervals=10)  # 27.2 kHz
    assert heard.any()
    assert not unheard.any()


def test_silence_costs_no_sound_but_the_phase_goes_on() -> None:
    voice = Voice(Oscillator("Wren"))
    sound = VoiceSound(voice, 25.0, RATE_HZ, 0.0, np.random.default_rng(4))
    t_s = CONTROL_SAMPLES * np.arange(11) / RATE_HZ
    samples, cycles = sound.block(np.full(11, 3.0), t_s, np.zeros(10 * CONTROL_SAMPLES))
    assert not samples.any()
    gone = cycles[-1] - cycles[0]
    assert gone == pytest.approx(261.6255653 * 10 * CONTROL_SAMPLES / RATE_HZ, rel=1e-9)
