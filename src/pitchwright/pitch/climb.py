"""Stage two: climb from harmonic to harmonic along the phase.

The span is cut into overlapping Hann-windowed blocks. In each, the phase of a few harmonics is
read; a frequency offset shows as phases that run away in proportion to the harmonic's number. The
strongest harmonic gives a first line, which is straight enough to unwrap the next one, which is
steeper and so gives a finer line, and so on up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pitchwright.pitch.spectrum import Spectrum

__all__ = ["Climb", "climb"]

Array = NDArray[np.float64]

_HARMONICS = 8
_PERIODS_PER_BLOCK = 4.0
_BLOCKS = 48
# A curve is fitted only to this many blocks or more, and kept only when it is this many times
# its own uncertainty.
_BLOCKS_FOR_CURVE = 5
_CURVE_SIGNIFICANCE = 4.0
_BINS_OFF = 0.95


@dataclass(frozen=True, slots=True)
class Climb:
    """Where the climb ended.

    Attributes
    ----------
    f_hz
        Frequency at the middle of the span.
    u_hz
        Rough standard uncertainty of it.
    highest
        The highest harmonic followed.
    glide_hz_per_s
        Its rate of change; zero where not significant.
    block_sizes
        Shape (blocks, harmonics followed): amplitude of each, the strongest first.
    block_off_hz
        Shape (blocks - 1,): frequency from block to block, less ``f_hz``.
    """

    f_hz: float
    u_hz: float
    highest: int
    glide_hz_per_s: float
    block_sizes: Array
    block_off_hz: Array

    @property
    def block_levels(self) -> Array:
        """Amplitude of all harmonics followed, and of the strongest, shape (blocks, 2)."""
        whole = np.sqrt(np.sum(self.block_sizes**2, axis=1))
        levels: Array = np.stack([whole, self.block_sizes[:, 0]], axis=1)
        return levels


def climb(samples: Array, rate_hz: float, f_hz: float, spectrum: Spectrum) -> Climb:
    """Follow a few harmonics of ``f_hz`` through the span and refine it."""
    orders = _orders(f_hz, spectrum)
    n = len(samples)
    length = int(min(max(_PERIODS_PER_BLOCK * rate_hz / f_hz, 2 * n / (_BLOCKS + 1)), n / 2))
    hop = max(length // 2, 1)
    blocks = np.lib.stride_tricks.sliding_window_view(samples, length)[::hop]
    in_block_s = (np.arange(length) - (length - 1) / 2) / rate_hz
    centre_s: Array = np.asarray(
        (np.arange(len(blocks)) * hop + (length - 1) / 2 - (n - 1) / 2) / rate_hz
    )
    window = 0.5 + 0.5 * np.cos(2 * np.pi * in_block_s * rate_hz / length)
    angle = 2 * np.pi * f_hz * in_block_s[:, None] * orders
    seen = np.concatenate((np.cos(angle), -np.sin(angle)), axis=1) * window[:, None]
    lines = blocks @ seen
    j = len(orders)
    z = (lines[:, :j] + 1j * lines[:, j:]) * (2 / window.sum())
    z *= np.exp(-2j * np.pi * f_hz * centre_s[:, None] * orders)
    return _follow(z, orders, centre_s, f_hz, length / rate_hz)


def _orders(f_hz: float, spectrum: Spectrum) -> Array:
    """The harmonics to follow, the strongest first, then upwards.

    One from each stretch of a geometric ladder: the one that tells most (k² A_k²).
    """
    spacing = f_hz / spectrum.bin_hz
    last = max(int((len(spectrum.power) - 2) / spacing), 1)
    k = np.arange(1, last + 1)
    centre = np.rint(k * spacing).astype(np.intp)
    centre = np.minimum(centre, len(spectrum.power) - 2)
    power = spectrum.power[centre - 1] + spectrum.power[centre] + spectrum.power[centre + 1]
    audible = power > max(30.0 * spectrum.floor, 1e-8 * float(power.max()))
    told = np.where(audible, k**2 * power, 0.0)
    ladder = np.floor(np.log(k) / np.log(1.8))
    chosen = []
    for rung in np.unique(ladder):
        on_rung = np.flatnonzero(ladder == rung)
        best = on_rung[np.argmax(told[on_rung])]
        if told[best] > 0:
            chosen.append(int(k[best]))
    strongest = int(k[np.argmax(power)])
    told_of = {c: told[c - 1] for c in chosen}
    chosen = sorted(sorted(chosen, key=lambda c: -told_of[c])[:_HARMONICS])
    return np.array([strongest, *[c for c in chosen if c != strongest]], dtype=np.float64)


def _follow(
    z: NDArray[np.complex128], orders: Array, t_s: Array, f_hz: float, block_s: float
) -> Climb:
    """Unwrap and fit the phase tracks together, one more harmonic each step."""
    curved = len(t_s) >= _BLOCKS_FOR_CURVE
    basis = np.stack([t_s, t_s**2], axis=1) if curved else t_s[:, None]
    law = np.zeros(basis.shape[1])
    # A block in which nothing sounds has a phase, but not one to be followed.
    loud = np.sum(np.abs(z) ** 2, axis=1)
    heard = loud / loud.sum()
    root = np.sqrt(loud / loud.max())
    tracks: list[Array] = []
    strength: list[float] = []
    left = np.zeros((len(t_s), 0))
    covariance = np.zeros((len(law), len(law)))
    for j, order in enumerate(orders):
        turned = z[:, j] * np.exp(-1j * order * (basis @ law))
        if j == 0:
            phase = _unwrapped(turned)
        else:
            mean = np.angle(turned.sum())
            phase = np.angle(turned * np.exp(-1j * mean))
        tracks.append(phase / order + basis @ law)
        strength.append(float(order**2 * np.mean(np.abs(z[:, j])) ** 2))
        weights = np.array(strength) / sum(strength)
        stack = np.stack(tracks, axis=1)
        centred = (basis - heard @ basis) * root[:, None]
        mean_track = ((stack - heard @ stack) @ weights) * root
        law, *_ = np.linalg.lstsq(centred, mean_track, rcond=None)
        left = mean_track - centred @ law
        freedom = max(len(t_s) - 1 - len(law), 1)
        covariance = np.linalg.inv(centred.T @ centred) * float(left @ left) / freedom
    step_hz = float(law[0]) / (2 * np.pi)
    glide = 0.0
    if curved and abs(law[1]) > _CURVE_SIGNIFICANCE * float(np.sqrt(covariance[1, 1])):
        glide = float(law[1]) / np.pi
    # A tone that has drifted off the middle of its bin looks weaker than it is: by the Hann
    # window's own transform.
    gone_hz = law[0] + 2 * law[1] * t_s if curved else np.full(len(t_s), law[0])
    bins = np.clip(np.abs(np.outer(gone_hz / (2 * np.pi) * block_s, orders)), 0.0, _BINS_OFF)
    size = np.abs(z) * (1 - bins**2) / np.sinc(bins)
    off_hz = np.diff(np.stack(tracks, axis=1) @ weights) / np.diff(t_s) / (2 * np.pi)
    return Climb(
        f_hz + step_hz,
        float(np.sqrt(covariance[0, 0])) / (2 * np.pi),
        int(orders.max()),
        glide,
        np.asarray(size, dtype=np.float64),
        off_hz - step_hz,
    )


def _unwrapped(turning: NDArray[np.complex128]) -> Array:
    """Phase along a line of phasors, however fast they turn, if only that changes slowly.

    In a long span of a high tone that drifts, the phase may gain more than half a turn from block
    to block at the ends; but the gain itself changes little from one to the next, and in the
    middle, where the frequency was looked for, it is small.
    """
    gain = np.unwrap(np.angle(turning[1:] * np.conj(turning[:-1])))
    gain -= 2 * np.pi * np.rint(gain[len(gain) // 2] / (2 * np.pi))
    return np.concatenate(([0.0], np.cumsum(gain)))
