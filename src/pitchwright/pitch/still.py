"""Where, within a span of one note, the pitch really stands still.

The phase of the lowest partials is followed from block to block of whole periods; where it advances
faster or slower than the pitch says, the pitch was moving. Cheap enough for every span, and it sees
what a spectrum cannot: the tail of an attack, a slow glide, a second strike of the same note.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from pitchwright.units import CENTS_PER_OCTAVE

__all__ = ["StillPart", "still_part"]

Samples = NDArray[np.float32]
Floats = NDArray[np.float64]

_PERIODS: Final = 3
_BLOCK_S: Final = 0.02
_PARTIALS: Final = 8
_FAINTEST: Final = 0.03  # of the strongest partial's amplitude
_LIMIT_CENTS: Final = 0.5
_LIMIT_SCATTERS: Final = 5.0
_LEVEL: Final = 0.7  # of the usual amplitude, below which a block holds an edge of the note


@dataclass(frozen=True, slots=True)
class StillPart:
    """The longest stretch in which the pitch stands still.

    Attributes
    ----------
    first, last
        Samples from the start of what was given, ``last`` excluded.
    swing_cents
        How far the pitch, smoothed over a few blocks, moves within it.
    share
        Its length as a share of what was given.
    """

    first: int
    last: int
    swing_cents: float
    share: float


def still_part(samples: Samples, rate_hz: float, f_hz: float) -> StillPart:
    """Find the longest still part of a span whose pitch is about known.

    Parameters
    ----------
    samples
        One channel, shape (n,).
    rate_hz
        Sample rate.
    f_hz
        The pitch, good to a fraction of a semitone.

    Returns
    -------
    StillPart
        All that was given, with a swing of 0, where it is shorter than four blocks.
    """
    periods = max(_PERIODS, math.ceil(_BLOCK_S * f_hz))
    length = round(periods * rate_hz / f_hz)
    count = len(samples) // length
    if count < 4:
        return StillPart(0, len(samples), 0.0, 1.0)
    off_cents, amplitude = _followed(
        samples[: count * length].reshape(count, length), rate_hz, f_hz, periods
    )
    usual = float(np.median(off_cents))
    scatter = 1.4826 * float(np.median(np.abs(off_cents - usual)))
    limit = max(_LIMIT_CENTS, _LIMIT_SCATTERS * scatter)
    loud = amplitude >= _LEVEL * float(np.median(amplitude))
    good = (np.abs(off_cents - usual) <= limit) & loud[:-1] & loud[1:]
    first, steps = _longest(good)
    if steps == 0:
        return StillPart(0, len(samples), float(np.ptp(off_cents)), 0.0)
    smooth = min(5, steps)
    path = np.convolve(off_cents[first : first + steps], np.full(smooth, 1.0 / smooth), "valid")
    begin, end = first * length, (first + steps + 1) * length
    if first + steps == count - 1:
        end = len(samples)
    return StillPart(begin, end, float(np.ptp(path)), (end - begin) / len(samples))


def _followed(blocks: Samples, rate_hz: float, f_hz: float, periods: int) -> tuple[Floats, Floats]:
    """How far the pitch from each block to the next is off ``f_hz``, and each block's amplitude.

    ``blocks`` is (n, length); the first result is (n - 1,) in cents, the second (n,).
    """
    length = blocks.shape[1]
    partials = np.arange(1, max(1, min(_PARTIALS, int(0.45 * rate_hz / f_hz))) + 1)
    spectra = scipy.fft.rfft(blocks, axis=1)[:, periods * partials].astype(np.complex128)
    power = np.mean(np.abs(spectra) ** 2, axis=0)
    weights = partials**2 * np.where(power > _FAINTEST**2 * power.max(), power, 0.0)
    turns = partials * f_hz * length / rate_hz
    advance = np.angle(spectra[1:] * np.conj(spectra[:-1])) / (2.0 * np.pi) - turns
    advance -= np.round(advance)
    total = float(weights.sum())
    off_hz = (advance / partials) @ weights / total * rate_hz / length if total > 0 else 0.0
    cents = np.broadcast_to(off_hz / f_hz * CENTS_PER_OCTAVE / math.log(2.0), len(blocks) - 1)
    return np.asarray(cents, dtype=np.float64), np.sqrt((np.abs(spectra) ** 2).sum(axis=1))


def _longest(good: NDArray[np.bool_]) -> tuple[int, int]:
    """Start and length of the longest run of true."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], good, [False])).astype(np.int8)))
    if len(edges) == 0:
        return 0, 0
    starts, lengths = edges[::2], edges[1::2] - edges[::2]
    best = int(np.argmax(lengths))
    return int(starts[best]), int(lengths[best])
