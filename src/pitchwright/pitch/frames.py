"""Does the spectrum stand still? Cheap features of overlapping frames, block by block.

Two spectra stand for the same note when the strongest peaks of each are found in the other at the
same place and about as strong. Places, not a pitch, are compared: a pitch judged frame by frame may
jump by octaves while nothing moves, and a sub-octave mix has no single one. Both directions are
needed, because every partial of a note is also a partial of the note an octave below.

Two layers of frames are laid over the sound. The fast one (frames of 80 to 160 ms) places changes
within a few hundredths of a second but cannot separate the partials of notes below about 50 Hz;
the slow one (frames four times as long, of the sound below 2 kHz) can, down to 12 Hz.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy.fft
from numpy.typing import NDArray

__all__ = ["FAR", "Decimator", "Layer", "frame_length"]

Samples = NDArray[np.float32]
Floats = NDArray[np.float32]
Indices = NDArray[np.intp]
Bools = NDArray[np.bool_]

FAR: Final = 8
"""How many frames apart the comparison is made that catches slow glides."""

_HIGHEST_HZ: Final = 14_000.0
_PEAKS: Final = 6
_FAINTEST: Final = 1e-3  # of the strongest peak's power: 30 dB below it is noise or crosstalk
_SHARE: Final = 0.75  # of the peaks' amplitude that must be found again
_LEVEL: Final = 3.5  # greatest ratio of a peak's powers in two near frames: an octave makes 4
_LEVEL_FAR: Final = 100.0  # far apart only the places count: notes may fade
_BINS: Final = 0.12  # a parabola through a Hann peak is good to 0.02 bin, noise comes on top
_RATIO: Final = 0.007  # 12 cents


def frame_length(rate_hz: float) -> int:
    """Samples in a frame of the fast layer: the power of two next above 80 ms."""
    return int(2 ** np.ceil(np.log2(0.08 * rate_hz)))


class Decimator:
    """Keep every ``factor``-th sample of a stream, low-passed at a third of the new rate.

    Parameters
    ----------
    factor
        How many samples become one.
    """

    _BLOCKS = 8

    def __init__(self, factor: int) -> None:
        self.factor = factor
        from scipy.signal import firwin  # looked up late: it takes half a second to load

        taps = firwin(self._BLOCKS * factor, 0.7 / factor) if factor > 1 else np.ones(1)
        # As a product of matrices: each row of the sound times each stretch of the filter.
        self._taps = taps.reshape(-1, factor).T.astype(np.float32)
        self._rest = np.zeros(0, np.float32)

    def feed(self, block: Samples) -> Samples:
        """The decimated samples that this block completes; float32 of shape (k,)."""
        sound = np.concatenate((self._rest, block))
        rows = sound[: len(sound) // self.factor * self.factor].reshape(-1, self.factor)
        blocks = self._taps.shape[1]
        count = len(rows) - blocks + 1
        if count <= 0:
            self._rest = sound
            return np.zeros(0, np.float32)
        products = rows @ self._taps
        low = np.zeros(count, np.float32)
        for place in range(blocks):
            low += products[place : place + count, place]
        self._rest = sound[count * self.factor :]
        return low


class Layer:
    """Frames of one length over a stream, each compared with later ones.

    Parameters
    ----------
    length, hop
        Frame length and distance in samples.
    near
        How many frames apart the comparison is made that says "still"; the frames compared should
        overlap by half at most, or noise looks still.
    rate_hz
        Sample rate of the stream fed.

    Attributes
    ----------
    still
        Per frame, whether frame i and frame i + near show the same spectrum; bool, grows.
    same_twice
        Per frame, whether frame i and frame i + 2 near do: a frame that holds the end of one note
        and the beginning of the next may resemble both.
    same_far
        Per frame, whether frame i and frame i + FAR do.
    power
        Per frame, mean square of what the spectrum holds without DC.
    """

    def __init__(self, length: int, hop: int, near: int, rate_hz: float) -> None:
        self._hop = hop
        self._near = near
        from scipy.signal.windows import hann  # looked up late, as firwin is

        window = hann(length, sym=False)
        self._window = window.astype(np.float32)
        self._power_scale = 2.0 / (length * float(np.sum(window**2)))
        self._bins = min(length // 2 + 1, int(_HIGHEST_HZ * length / rate_hz) + 3)
        self._rest = np.zeros(0, np.float32)
        self._waiting: _Frames | None = None
        self.still = np.zeros(0, bool)
        self.same_twice = np.zeros(0, bool)
        self.same_far = np.zeros(0, bool)
        self.power = np.zeros(0)

    def feed(self, block: Samples) -> None:
        """Take the next samples (float32, shape (n,)) and compare the frames they complete."""
        length = len(self._window)
        sound = np.concatenate((self._rest, block))
        count = max(0, (len(sound) - length) // self._hop + 1)
        self._rest = sound[count * self._hop :]
        if count == 0:
            return
        rows = np.lib.stride_tricks.sliding_window_view(sound, length)[:: self._hop][:count]
        spectra = scipy.fft.rfft(rows * self._window, axis=1)[:, : self._bins]
        power = spectra.real**2 + spectra.imag**2
        self.power = np.append(self.power, power[:, 2:].sum(axis=1) * self._power_scale)
        frames, waited = _Frames.of(power), 0
        if self._waiting is not None:
            frames, waited = self._waiting.followed_by(frames), len(self._waiting.power)
        first = max(0, waited - self._near)
        self.still = np.append(self.still, frames.part(first, None).same(self._near, _LEVEL))
        first = max(0, waited - 2 * self._near)
        twice = frames.part(first, None).same(2 * self._near, _LEVEL)
        self.same_twice = np.append(self.same_twice, twice)
        self.same_far = np.append(self.same_far, frames.same(FAR, _LEVEL_FAR))
        self._waiting = frames.part(-FAR, None)

    def forget(self, count: int) -> None:
        """Drop the results of the first ``count`` frames still held."""
        self.still = self.still[count:]
        self.same_twice = self.same_twice[count:]
        self.same_far = self.same_far[count:]
        self.power = self.power[count:]


@dataclass(frozen=True, slots=True)
class _Frames:
    """Power spectra of successive frames (n, bins) with their strongest peaks (n, _PEAKS)."""

    power: Floats
    bins: Indices
    weights: Floats
    places: Floats
    heights: Floats

    @classmethod
    def of(cls, power: Floats) -> _Frames:
        """Find the peaks of these power spectra; DC and its leakage (bins 0 and 1) are no peak."""
        inner = power[:, 2:-2]
        is_peak = (inner > power[:, 1:-3]) & (inner >= power[:, 3:-1])
        peaks = np.where(is_peak, inner, np.float32(0.0))
        peaks[peaks <= _FAINTEST * peaks.max(axis=1, keepdims=True)] = 0.0
        # Among equals the lower ones, or the even partials, which an octave shares, crowd out the
        # odd ones of a narrow pulse.
        lowness = np.float32(1.0) / np.arange(2, 2 + inner.shape[1], dtype=np.float32)
        rank = peaks * lowness
        rows = np.arange(len(power))
        bins = np.empty((len(power), _PEAKS), np.intp)
        for place in range(_PEAKS):
            bins[:, place] = best = np.argmax(rank, axis=1)
            rank[rows, best] = 0.0
        height = peaks[rows[:, None], bins]
        weights = np.sqrt(height)
        places, heights = _peak_near(power, bins + 2)
        return cls(power, bins + 2, weights, places, heights)

    def followed_by(self, later: _Frames) -> _Frames:
        return _Frames(
            np.concatenate((self.power, later.power)),
            np.concatenate((self.bins, later.bins)),
            np.concatenate((self.weights, later.weights)),
            np.concatenate((self.places, later.places)),
            np.concatenate((self.heights, later.heights)),
        )

    def part(self, first: int | None, last: int | None) -> _Frames:
        rows = slice(first, last)
        return _Frames(
            self.power[rows],
            self.bins[rows],
            self.weights[rows],
            self.places[rows],
            self.heights[rows],
        )

    def same(self, distance: int, level: float) -> Bools:
        """Whether each frame and the one ``distance`` later look alike; shape (n - distance,).

        ``level`` is the greatest ratio of a peak's powers.
        """
        count = len(self.power) - distance
        if count <= 0:
            return np.zeros(0, bool)
        early, late = self.part(0, count), self.part(distance, None)
        lost = early.share_in(late, level) < _SHARE
        gained = late.share_in(early, level) < _SHARE
        return np.asarray(~(lost | gained), dtype=bool)

    def share_in(self, other: _Frames, level: float) -> Floats:
        """How much of the peaks' amplitude, frame by frame, is found again in ``other``."""
        places, heights = _peak_near(other.power, self.bins)
        near = np.abs(places - self.places) < np.clip(_RATIO * self.places, _BINS, 1.0)
        as_strong = np.abs(heights - self.heights) < np.log(level)
        total = self.weights.sum(axis=1)
        found = np.where(near & as_strong, self.weights, np.float32(0.0)).sum(axis=1)
        return np.asarray(found / np.where(total > 0.0, total, 1.0), dtype=np.float32)


def _peak_near(power: Floats, bins: Indices) -> tuple[Floats, Floats]:
    """Place (in bins) and log power of the strongest bin within one of ``bins``, interpolated."""
    flat = np.ascontiguousarray(power).ravel()
    at = bins + power.shape[1] * np.arange(len(power))[:, None]
    left, middle, right = flat[at - 1], flat[at], flat[at + 1]
    step = np.where((left > middle) & (left >= right), -1, np.where(right > middle, 1, 0))
    at = at + step
    left, middle, right = (
        np.log(flat[place] + np.float32(1e-30)) for place in (at - 1, at, at + 1)
    )
    bend = left - 2.0 * middle + right
    shift = np.where(bend < 0.0, 0.5 * (left - right) / np.where(bend < 0.0, bend, -1.0), 0.0)
    places = bins + step + np.clip(shift, -1.0, 1.0)
    return places.astype(np.float32), middle
