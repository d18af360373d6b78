"""Warm-ups whose truth is known: what the benchmark's forecasts are held against.

Nothing here is shared with the code under test. The wander is made in the frequency domain (the
forecast's noise model works in the time domain), the room moves along a random smooth path, and
the oscillator may follow the room late. Ranges are those of analog oscillators after power-on:
one or two time constants of 3 to 40 minutes, 5 to 60 cents in all, a room that moves by up to
1 K, up to 3 cents per kelvin, flicker wander with an Allan deviation of 0.02 to 0.3 cent.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

HORIZON_S = 1800.0
TOLERANCE_CENTS = 1.0
READING_INTERVAL_S = 5.0
THERMOMETER_NOISE_K = 0.03


@dataclass(frozen=True)
class WarmUp:
    """One simulated warm-up.

    Attributes
    ----------
    t_s, cents, temperature_c
        What is seen, shape (n,).
    amplitudes_cents, time_constants_s
        The systematic part: the sum of amplitude · exp(-t / time constant).
    ready_s
        When the systematic drift over the coming 30 minutes comes under the tolerance for good.
    wander_adev_cents
        Allan deviation of the flicker wander.
    wander_cents
        The flicker wander itself, shape (n,): what a perfect fit would leave.
    room_cents
        What the room's temperature did to the pitch, shape (n,).
    cents_per_k
        Temperature coefficient.
    """

    t_s: Array
    cents: Array
    temperature_c: Array
    amplitudes_cents: Array
    time_constants_s: Array
    ready_s: float
    wander_adev_cents: float
    wander_cents: Array
    room_cents: Array
    cents_per_k: float

    def drift_cents(self, at_s: float) -> float:
        """Greatest systematic departure within 30 minutes from the pitch at ``at_s``."""
        return float(drift_after(self.amplitudes_cents, self.time_constants_s, np.array([at_s]))[0])


def drift_after(amplitudes_cents: Array, time_constants_s: Array, at_s: Array) -> Array:
    """Greatest departure within 30 minutes, by brute force on a 10 s grid, shape of ``at_s``."""
    ahead_s = np.arange(0.0, HORIZON_S + 1.0, 10.0)
    path = np.zeros((at_s.size, ahead_s.size))
    for amplitude, tau_s in zip(amplitudes_cents, time_constants_s, strict=True):
        path += amplitude * np.exp(-(at_s[:, None] + ahead_s) / tau_s)
    return np.asarray(np.max(np.abs(path - path[:, :1]), axis=1))


def flicker(n: int, interval_s: float, adev_cents: float, rng: np.random.Generator) -> Array:
    """Flicker wander, shape (n,), whose Allan deviation is ``adev_cents`` at every time.

    A one-sided spectrum h / f has an Allan variance of 2 ln 2 · h (NIST SP 1065, table of noise
    types).
    """
    long = 1 << math.ceil(math.log2(4 * n))
    f_hz = np.fft.rfftfreq(long, interval_s)
    h = adev_cents**2 / (2.0 * math.log(2.0))
    density = np.zeros_like(f_hz)
    density[1:] = h / f_hz[1:]
    spectrum = np.sqrt(density * long / (4.0 * interval_s)) * (
        rng.standard_normal(f_hz.size) + 1j * rng.standard_normal(f_hz.size)
    )
    path = np.fft.irfft(spectrum, long)
    return np.asarray(path[:n])


def room(t_s: Array, rng: np.random.Generator) -> Array:
    """A room's departure from where it started, in kelvin: smooth, within 1 K, shape of t_s."""
    path = np.zeros_like(t_s)
    for _ in range(3):
        period_s = 60.0 * math.exp(rng.uniform(math.log(40.0), math.log(300.0)))
        path += rng.uniform(0.3, 1.0) * np.sin(
            2.0 * math.pi * (t_s / period_s + rng.uniform(0.0, 1.0))
        )
    path *= rng.uniform(0.3, 1.0) / np.max(np.abs(path))
    return np.asarray(path - path[0])


def simulate(seed: int, hours: float = 6.0, interval_s: float = READING_INTERVAL_S) -> WarmUp:
    """Draw one warm-up; the same seed gives the same one."""
    rng = np.random.default_rng(seed)
    t_s = np.arange(interval_s, hours * 3600.0, interval_s)
    total = rng.uniform(5.0, 60.0) * rng.choice([-1.0, 1.0])
    if rng.random() < 0.5:
        amplitudes = np.array([total])
        taus_s = np.array([math.exp(rng.uniform(math.log(180.0), math.log(2400.0)))])
    else:
        share = rng.uniform(0.2, 0.8)
        amplitudes = np.array([share, 1.0 - share]) * total
        taus_s = np.sort(np.exp(rng.uniform(math.log(180.0), math.log(2400.0), 2)))
    adev = math.exp(rng.uniform(math.log(0.02), math.log(0.3)))
    wander = flicker(t_s.size, interval_s, adev, rng)
    noise_cents = math.exp(rng.uniform(math.log(0.01), math.log(0.1)))
    per_k = rng.uniform(-3.0, 3.0)
    lag_s = rng.uniform(0.0, 600.0)
    room_k = room(t_s, rng)
    felt_k = np.empty_like(room_k)
    keep = math.exp(-interval_s / lag_s) if lag_s > 0.0 else 0.0
    state = room_k[0]
    for i, now in enumerate(room_k):
        state = keep * state + (1.0 - keep) * now
        felt_k[i] = state
    cents = rng.uniform(-20.0, 20.0) + wander + per_k * felt_k
    for amplitude, tau_s in zip(amplitudes, taus_s, strict=True):
        cents += amplitude * np.exp(-t_s / tau_s)
    cents += noise_cents * rng.standard_normal(t_s.size)
    seen_c = 21.0 + room_k + THERMOMETER_NOISE_K * rng.standard_normal(t_s.size)
    at_s = np.arange(0.0, 6.0 * 3600.0, 10.0)
    over = np.flatnonzero(drift_after(amplitudes, taus_s, at_s) > TOLERANCE_CENTS)
    ready_s = float(at_s[over[-1] + 1]) if over.size else 0.0
    return WarmUp(
        t_s, cents, seen_c, amplitudes, taus_s, ready_s, adev, wander, per_k * felt_k, per_k
    )
