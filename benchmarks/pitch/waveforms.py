"""Waveforms as harmonic series, and the one way they are turned into samples.

A series is an array of complex amplitudes c_1 ... c_K: the sound is Re sum c_k exp(i k phase).
Nothing here is shared with what is being measured.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

__all__ = ["NOT_SINE", "Series", "series_of", "sound_at", "sound_steady", "through_curve"]

Array = NDArray[np.float64]
Series = NDArray[np.complex128]

_CHUNK = 4096


def _saw(k: Array, rng: np.random.Generator) -> Series:
    return np.asarray(rng.choice([-2j, 2j]) / np.pi / k)


def _square(k: Array, _: np.random.Generator) -> Series:
    return np.asarray(np.where(k % 2 == 1, -4j / np.pi / k, 0.0))


def _pulse(k: Array, rng: np.random.Generator) -> Series:
    width = np.exp(rng.uniform(np.log(0.01), np.log(0.5)))
    return np.asarray(4 / np.pi / k * np.sin(np.pi * k * width), dtype=np.complex128)


def _triangle(k: Array, _: np.random.Generator) -> Series:
    return np.asarray(np.where(k % 2 == 1, 8 / np.pi**2 / k**2, 0.0), dtype=np.complex128)


def _folded(k: Array, rng: np.random.Generator) -> Series:
    """A sine through a sine-shaped wave folder, with some offset."""
    drive, offset = rng.uniform(1.0, 7.0), rng.uniform(0.0, 1.2)
    return through_curve(np.array([-1j]), len(k), lambda x: np.asarray(np.sin(drive * x + offset)))


def _sub_octave(k: Array, rng: np.random.Generator, level_db: float = -6.0) -> Series:
    """A saw with a square an octave below mixed in; k counts harmonics of the lower one."""
    upper = np.where(k % 2 == 0, -4j / np.pi / k, 0.0)
    lower = _square(k, rng) * np.exp(1j * k * rng.uniform(0, 2 * np.pi))
    # A saw's power is 1/3 and a square's 1 for peaks of one.
    return np.asarray(upper + lower * np.sqrt(1 / 3) * 10 ** (level_db / 20))


def _sine(k: Array, _: np.random.Generator) -> Series:
    return np.asarray(k == 1, dtype=np.complex128)


def _three_lines(k: Array, rng: np.random.Generator) -> Series:
    """A filter at the edge of oscillation: a sine with a weak second and third harmonic."""
    weak_db = np.select([k == 1, k == 2, k == 3], [0.0, *rng.uniform(-40.0, -20.0, 2)], -np.inf)
    turn = np.exp(2j * np.pi * rng.random(len(k)))
    return np.asarray(10 ** (weak_db / 20) * turn, dtype=np.complex128)


_SHAPES: dict[str, Callable[..., Series]] = {
    "saw": _saw,
    "square": _square,
    "pulse": _pulse,
    "triangle": _triangle,
    "folded": _folded,
    "sine": _sine,
    "sub-octave mix": _sub_octave,
    "three lines": _three_lines,
}
NOT_SINE = ("saw", "square", "pulse", "triangle", "folded")


def series_of(
    shape: str, harmonics: int, rng: np.random.Generator, level_db: float | None = None
) -> Series:
    """Harmonic series of a named waveform, its free parameters drawn from ``rng``."""
    k = np.arange(1, harmonics + 1, dtype=np.float64)
    if level_db is not None:
        return _SHAPES[shape](k, rng, level_db)
    return _SHAPES[shape](k, rng)


def through_curve(series: Series, harmonics: int, curve: Callable[[Array], Array]) -> Series:
    """Series of what a memoryless curve makes of a series, before any sampling."""
    size = 1 << max(14, (16 * harmonics).bit_length())
    spectrum = np.zeros(size // 2 + 1, dtype=np.complex128)
    spectrum[1 : len(series) + 1] = series
    period = curve(np.fft.irfft(spectrum, size) * size / 2)
    return np.asarray(np.fft.rfft(period)[1 : harmonics + 1] * 2 / size)


def sound_steady(series: Series, cycles_per_sample: float, n: int, start_cycles: float) -> Array:
    """Samples at a constant frequency, each harmonic summed exactly.

    exp(i k w (m L + j)) = exp(i k w m L) exp(i k w j), so the sum over k is a matrix product.
    """
    length = max(int(np.sqrt(n)), 1)
    rows = -(-n // length)
    k = np.arange(1, len(series) + 1)

    def turn(cycles: Array) -> Series:
        whole = np.outer(cycles, k)
        return np.asarray(np.exp(2j * np.pi * (whole - np.rint(whole))))

    row, column = np.arange(rows, dtype=np.float64), np.arange(length, dtype=np.float64)
    left = turn(start_cycles + cycles_per_sample * length * row) * series
    right = turn(cycles_per_sample * column).T
    return np.asarray(
        (left.real @ right.real - left.imag @ right.imag).ravel()[:n], dtype=np.float64
    )


def sound_at(series: Series, cycles: Array) -> Array:
    """Samples at any phases, by Clenshaw's recurrence in blocks small enough for the cache."""
    out = np.empty(len(cycles))
    for first in range(0, len(cycles), _CHUNK):
        phase = 2 * np.pi * (cycles[first : first + _CHUNK] % 1.0)
        turn = 2 * np.cos(phase)
        cos_1, cos_2 = np.zeros_like(phase), np.zeros_like(phase)
        sin_1, sin_2 = np.zeros_like(phase), np.zeros_like(phase)
        for c in series[::-1]:
            cos_1, cos_2 = turn * cos_1 - cos_2 + c.real, cos_1
            sin_1, sin_2 = turn * sin_1 - sin_2 - c.imag, sin_1
        # cos_1 and sin_1 are the recurrence's b_1, cos_2 its b_2.
        out[first : first + _CHUNK] = cos_1 * np.cos(phase) - cos_2 + sin_1 * np.sin(phase)
    return out
