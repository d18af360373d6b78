"""The cases: which tone, spoilt how, for how long, at what rate; all from one seed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from benchmarks.pitch.waveforms import (
    NOT_SINE,
    Series,
    series_of,
    sound_at,
    sound_steady,
    through_curve,
)
from numpy.typing import NDArray
from scipy import signal

__all__ = ["DURATIONS_S", "GROUPS", "Case", "cases"]

Array = NDArray[np.float64]

DURATIONS_S = (0.1, 0.25, 0.5, 1.0, 2.0)
RATES_HZ = (22_050.0, 44_100.0, 48_000.0, 88_200.0, 96_000.0, 192_000.0)
LOW_HZ, HIGH_HZ, PERIODS = 16.0, 12_500.0, 6.2
JITTER = 1e-4
DRIFT_CENTS_PER_S = 0.5
# What any converter adds: white noise this far below full scale, and 24-bit steps.
CONVERTER_DBFS = -100.0
STEP = 2.0**-23
# Harmonics reach this share of the sample rate, as behind a converter's filter.
BAND = 0.46

# Row of the table of bars -> impairments in it, and cases per duration and impairment.
GROUPS: dict[str, tuple[tuple[str, ...], int]] = {
    "not sine: clean, DC, AC coupled, clipped, hum": (
        ("clean", "DC", "AC coupled", "clipped", "hum"),
        16,
    ),
    "not sine, 30 dB": (("30 dB",), 50),
    "not sine, 15 dB": (("15 dB",), 30),
    "sine with band noise at -60 dB": (("band noise",), 50),
    "jitter 0.01 %": (("jitter",), 50),
    "drift 0.5 cent/s": (("drift",), 50),
    "crosstalk -50 dB, not sine": (("crosstalk",), 50),
    "sub-octave mix -12, -6, -3 dB": (("sub-octave mix",), 15),
    "filter of three lines, band noise at -60 dB": (("three lines",), 50),
    "sine on a ramp of direct voltage": (("ramp",), 30),
}


@dataclass(frozen=True, slots=True)
class Case:
    """One span of sound and the truth about it.

    Attributes
    ----------
    group, impairment, shape
        Which row, which impairment, which waveform.
    f_hz
        Exact frequency: the phase gained over the span, divided by its duration.
    settled_hz
        Frequency the oscillator was set to (differs from ``f_hz`` under jitter).
    samples, rate_hz, duration_s
        The sound.
    bound_cents
        Cramér-Rao bound for white noise, where that is the impairment; else NaN.
    also_hz
        The other acceptable frequency of a sub-octave mix; else NaN.
    """

    group: str
    impairment: str
    shape: str
    f_hz: float
    settled_hz: float
    samples: Array
    rate_hz: float
    duration_s: float
    bound_cents: float
    also_hz: float


def cases(seed: int, share: float = 1.0) -> Iterator[Case]:
    """All cases of a seed, or about a ``share`` of them; the same every time."""
    for g, (group, (impairments, count)) in enumerate(GROUPS.items()):
        for i, impairment in enumerate(impairments):
            for d, duration_s in enumerate(DURATIONS_S):
                number = max(round(count * share), 1)
                for c in range(number):
                    rng = np.random.default_rng([seed, g, i, d, c])
                    yield _case(rng, group, impairment, duration_s, (c + rng.random()) / number)


def _case(
    rng: np.random.Generator, group: str, impairment: str, duration_s: float, where: float
) -> Case:
    low_hz = max(LOW_HZ, PERIODS / duration_s)
    # A sub-octave mix needs harmonics of both octaves.
    mix = impairment == "sub-octave mix"
    f_hz = low_hz * (HIGH_HZ / (4 if mix else 1) / low_hz) ** where
    rates = [r for r in RATES_HZ if r * 0.45 > f_hz * (4 if mix else 1)]
    rate_hz = float(rng.choice(rates))
    n = round(duration_s * rate_hz)
    if impairment in ("band noise", "ramp"):
        shape = "sine"
    elif impairment in ("three lines", "sub-octave mix"):
        shape = impairment
    elif impairment == "jitter":
        shape = str(rng.choice([*NOT_SINE, "sine"]))
    else:
        shape = str(rng.choice(NOT_SINE))
    sub_db = float(rng.choice([-12.0, -6.0, -3.0])) if shape == "sub-octave mix" else None
    harmonics = max(int(BAND * rate_hz / f_hz), 1)
    series = series_of(shape, harmonics, rng, sub_db)
    series = series * 10 ** (rng.uniform(-20.0, -1.0) / 20) / 2
    bound_cents = np.nan
    exact_hz = f_hz
    if impairment == "AC coupled":
        k_hz = f_hz * np.arange(1, harmonics + 1)
        series = series * (1j * k_hz / (1j * k_hz + rng.uniform(1.0, 20.0)))
    clipped_before = impairment == "clipped" and rng.random() < 0.5
    if clipped_before:
        # Before the converter's filter: no alias products.
        limit = rng.uniform(0.6, 0.9) * float(np.abs(_peek(series)).max())
        series = through_curve(series, harmonics, lambda x: np.clip(x, -limit, limit))
    if impairment == "jitter":
        cycles = _jittered(rng, f_hz / rate_hz, n)
        exact_hz = float(cycles[-1] - cycles[0]) / ((n - 1) / rate_hz)
        x = sound_at(series, cycles)
    elif impairment == "drift":
        t_s = (np.arange(n) - (n - 1) / 2) / rate_hz
        rate = float(rng.choice([-1, 1])) * DRIFT_CENTS_PER_S * np.log(2) / 1200
        cycles = f_hz * np.expm1(rate * t_s) / rate + rng.random()
        exact_hz = float(cycles[-1] - cycles[0]) / ((n - 1) / rate_hz)
        x = sound_at(series, cycles)
    else:
        x = sound_steady(series, f_hz / rate_hz, n, rng.random())
    power = float(np.sum(np.abs(series) ** 2)) / 2
    if impairment == "DC":
        x = x + rng.uniform(-0.3, 0.3)
    elif impairment == "clipped" and not clipped_before:
        # In the converter: the corners alias.
        limit = rng.uniform(0.6, 0.9) * float(np.abs(x).max())
        x = np.clip(x, -limit, limit)
    elif impairment == "hum":
        x = x + _hum(rng, n, rate_hz) * np.sqrt(power) * 10 ** (rng.uniform(-60, -40) / 20)
    elif impairment in ("30 dB", "15 dB"):
        sigma = np.sqrt(power) * 10 ** (-float(impairment[:2]) / 20)
        x = x + sigma * rng.standard_normal(n)
        told = float(np.sum(np.arange(1, harmonics + 1) ** 2 * np.abs(series) ** 2))
        rad = np.sqrt(24 * sigma**2 / (n * (n**2 - 1.0) * told))
        bound_cents = 1200 / np.log(2) * rad * rate_hz / (2 * np.pi) / f_hz
    elif impairment == "ramp":
        x = x + rng.uniform(-0.5, 0.5) * np.linspace(-1.0, 1.0, n)
    elif impairment in ("band noise", "three lines"):
        noise = _band_noise(rng, n, f_hz / rate_hz)
        x = x + noise * np.sqrt(power) * 10 ** (-60 / 20)
    elif impairment == "crosstalk":
        x = x + _crosstalk(rng, f_hz, rate_hz, n, power)
    x = x + 10 ** (CONVERTER_DBFS / 20) / np.sqrt(2) * rng.standard_normal(n)
    x = np.rint(x / STEP) * STEP
    also_hz = 2 * f_hz if shape == "sub-octave mix" else np.nan
    return Case(
        group, impairment, shape, exact_hz, f_hz, x, rate_hz, duration_s, bound_cents, also_hz
    )


def _peek(series: Series) -> Array:
    return np.fft.irfft(np.concatenate(([0], series)), 8 * len(series) + 8) * (4 * len(series) + 4)


def _jittered(rng: np.random.Generator, step: float, n: int) -> Array:
    """Phase in cycles when each period is off by a random 0.01 %."""
    count = int(n * step * 1.01) + 4
    lengths = (1 + JITTER * rng.standard_normal(count)) / step
    ends = np.concatenate(([0.0], np.cumsum(lengths))) - rng.random() * lengths[0]
    return np.asarray(np.interp(np.arange(n), ends, np.arange(count + 1.0)))


def _hum(rng: np.random.Generator, n: int, rate_hz: float) -> Array:
    mains_hz = float(rng.choice([50.0, 60.0])) * (1 + 5e-4 * rng.standard_normal())
    t_s = np.arange(n) / rate_hz
    hum = np.zeros(n)
    for k in range(1, 8):
        size = (1.0 if k % 2 else 0.4) / k * rng.uniform(0.3, 1.0)
        hum += size * np.sin(2 * np.pi * (k * mains_hz * t_s + rng.random()))
    return np.asarray(hum / np.sqrt(np.mean(hum**2)))


def _band_noise(rng: np.random.Generator, n: int, cycles_per_sample: float) -> Array:
    """Noise through a resonance at the tone, of Q 3 to 20, with power one."""
    q = np.exp(rng.uniform(np.log(3.0), np.log(20.0)))
    b, a = signal.iirpeak(2 * cycles_per_sample, q)
    lead = int(6 * q / cycles_per_sample)
    noise = signal.lfilter(b, a, rng.standard_normal(n + lead))
    impulse = signal.lfilter(b, a, np.eye(1, lead)[0])
    return np.asarray(noise[lead:] / np.sqrt(np.sum(impulse**2)))


def _crosstalk(
    rng: np.random.Generator, f_hz: float, rate_hz: float, n: int, power: float
) -> Array:
    """Another oscillator 50 dB below, a few cents away or an octave and a few cents."""
    off_cents = float(rng.choice([-1, 1])) * rng.uniform(2.0, 20.0)
    octave = int(rng.choice([-1, 0, 0, 1]))
    other_hz = f_hz * 2.0**octave * 2 ** (off_cents / 1200)
    harmonics = int(BAND * rate_hz / other_hz)
    if harmonics < 1:
        return np.zeros(n)
    series = series_of(str(rng.choice(NOT_SINE)), harmonics, rng)
    own = float(np.sum(np.abs(series) ** 2)) / 2
    if own == 0:
        return np.zeros(n)
    leak = sound_steady(series, other_hz / rate_hz, n, rng.random())
    return np.asarray(leak * np.sqrt(power / own) * 10 ** (-50 / 20))
