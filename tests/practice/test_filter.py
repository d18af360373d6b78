"""The self-oscillating filter: noise as loud as asked for, weak in the bass."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from pitchwright.practice import FilterTone
from pitchwright.practice.filter import BandNoise


def test_amplitude_is_3_db_down_at_the_corner() -> None:
    tone = FilterTone(low_corner_hz=40.0)
    amplitude = tone.amplitude(np.array([40.0, 4000.0]))
    assert 20.0 * np.log10(amplitude[0]) == pytest.approx(-3.01, abs=0.01)
    assert amplitude[1] == pytest.approx(1.0, abs=1e-4)
    assert FilterTone().amplitude(np.array([20.0]))[0] == 1.0


def test_noise_power_and_bandwidth() -> None:
    """Power against the sine's, and half power at half the bandwidth (scipy's Welch spectrum)."""
    rate_hz, f_hz, count = 48000.0, 1000.0, 2**15
    tone = FilterTone(noise_db=-40.0, resonance=10.0)
    noise = BandNoise(tone, rate_hz, np.random.default_rng(8))
    blocks = [noise.block(f_hz, count) for _ in range(40)]
    in_phase = np.concatenate([block[0] for block in blocks])
    quadrature = np.concatenate([block[1] for block in blocks])
    angle = 2.0 * np.pi * f_hz / rate_hz * np.arange(in_phase.size)
    added = in_phase * np.sin(angle) + quadrature * np.cos(angle)
    assert 10.0 * np.log10(np.mean(added**2) / 0.5) == pytest.approx(-40.0, abs=0.2)
    f_axis_hz, density = signal.welch(added, rate_hz, nperseg=8192)
    centre = density[np.argmin(abs(f_axis_hz - f_hz))]
    edge = density[np.argmin(abs(f_axis_hz - f_hz * 1.05))]
    assert edge / centre == pytest.approx(0.5, abs=0.08)


def test_blocks_join_without_a_step() -> None:
    noise = BandNoise(FilterTone(resonance=500.0), 48000.0, np.random.default_rng(8))
    first, second = noise.block(100.0, 5000)[0], noise.block(100.0, 5000)[0]
    usual = float(np.std(np.diff(first)))
    assert abs(second[0] - first[-1]) < 5.0 * usual
