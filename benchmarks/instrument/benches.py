"""Random benches: sources and oscillators whose every cent is known, and surveys of them.

Nothing here uses what is measured: curves, drift and noise are drawn with numpy alone. Sizes are
common practice: scales off by some cents per octave, droops of 0 to 6 cents per kHz, resistor
chains good to a few tenths of a cent with a step of some cents in every other one.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from pitchwright.ensemble import Evidence, Meter, Sweep, Voltage
from pitchwright.tracking import Point

Array = NDArray[np.float64]

PLAYERS = ("Heron", "Wren", "Plover", "Dunlin", "Bittern", "Sixth")
SOURCES = ("Loft", "Stairs", "Third")
SECONDS_A_NOTE = 1.5


def volts(notes: Array) -> Array:
    """Nominal control voltage, C1 at 0 V."""
    return np.asarray((notes - 24.0) / 12.0)


def hertz(notes: Array) -> Array:
    """Equal temperament at A4 = 440 Hz."""
    return np.asarray(440.0 * 2.0 ** ((notes - 69.0) / 12.0))


@dataclass(frozen=True)
class TrueStep:
    """A step of 2 cents or more that was put in."""

    source: str
    notes: tuple[float, ...]
    cents: float


@dataclass
class Bench:
    """One bench: the truth, and what was measured of it."""

    notes: Array
    curves: dict[str, Array] = field(default_factory=dict)
    steps: list[TrueStep] = field(default_factory=list)
    evidence: Evidence = field(default_factory=lambda: Evidence(()))
    meter_gain: float = 0.0

    def terms(self, name: str) -> Array:
        """Scale and droop of an actual curve: its projection, with the shapes written anew."""
        octaves, khz = volts(self.notes), hertz(self.notes) / 1000.0
        shapes = np.column_stack([np.ones_like(octaves), octaves, khz])
        return np.asarray(np.linalg.lstsq(shapes, self.curves[name], rcond=None)[0][1:])

    def read_voltage(
        self, rng: np.random.Generator, source: str, notes: tuple[float, ...]
    ) -> tuple[Voltage, ...]:
        """Read a source's voltage at notes, each to the meter's noise, all with its gain error."""
        found = []
        for note in notes:
            cents = float(self.curves[source][np.flatnonzero(self.notes == note)[0]])
            true_v = float(volts(np.array([note]))[0]) + cents / 1200.0
            noise_v = float(rng.normal(0.0, self.evidence.meter.u_v))
            found.append(Voltage(source, note, true_v * (1.0 + self.meter_gain) + noise_v))
        return tuple(found)


def draw(rng: np.random.Generator) -> Bench:
    """One random bench."""
    step = int(rng.choice([2, 3, 4, 6]))
    notes = np.arange(24.0, float(rng.choice([84, 96])) + 1.0, step)
    bench = Bench(notes)
    players = PLAYERS[: int(rng.integers(2, 7))]
    sources = SOURCES[: int(rng.choice([1, 1, 2, 3]))]
    for name in players:
        bench.curves[name] = _oscillator(rng, notes)
    for name in sources:
        bench.curves[name] = _source(rng, notes, name, bench.steps)
    meter = Meter(0.001, float(rng.choice([0.0, 0.0002, 0.0005])))
    bench.meter_gain = float(rng.normal(0.0, meter.u_gain or 0.0))
    sweeps = []
    for source in sources:
        # Every source plays two oscillators at least, and Heron connects them all.
        heard = [p for p in players if p == "Heron" or rng.random() < 0.7]
        if len(heard) < 2:
            heard = list(players[:2])
        sweeps += [_sweep(rng, bench, player, source) for player in heard]
    bench.evidence = Evidence(tuple(sweeps), meter=meter)
    return bench


def _smooth(rng: np.random.Generator, notes: Array, size: float) -> Array:
    """A wiggle half to two and a half octaves long, of a given standard deviation."""
    apart = (notes[:, None] - notes[None, :]) / 12.0 / rng.uniform(0.5, 2.5)
    covariance = np.exp(-0.5 * apart**2) + 1e-9 * np.eye(len(notes))
    return np.asarray(size * (np.linalg.cholesky(covariance) @ rng.standard_normal(len(notes))))


def _oscillator(rng: np.random.Generator, notes: Array) -> Array:
    seconds = rng.uniform(0.0, 6.0) / 1.7312 * 1e-6
    droop = 1200.0 * np.log2(1.0 - hertz(notes) * seconds)
    scale = rng.normal(0.0, 8.0) * volts(notes)
    return np.asarray(
        rng.normal(0.0, 10.0) + scale + droop + _smooth(rng, notes, float(rng.uniform(0.0, 0.4)))
    )


def _source(rng: np.random.Generator, notes: Array, name: str, steps: list[TrueStep]) -> Array:
    curve = rng.normal(0.0, 6.0) * volts(notes) + rng.normal(
        0.0, rng.choice([0.0, 0.1, 0.3]), len(notes)
    )
    if rng.random() < 0.3:
        curve = curve + rng.normal(0.0, 0.3) * hertz(notes) / 1000.0
    if rng.random() < 0.5:
        size = float(rng.choice([-1.0, 1.0]) * rng.uniform(2.0, 6.0))
        first = int(rng.integers(len(notes)))
        if rng.random() < 0.3:
            # A resistor of the chain: everything from there up. At the ends it would be a base.
            first = int(np.clip(first, 2, len(notes) - 2))
            on = np.arange(len(notes)) >= first
        else:
            on = np.arange(len(notes)) == first
        curve = curve + size * on
        steps.append(TrueStep(name, tuple(float(n) for n in notes[on]), size))
    return np.asarray(curve)


def _sweep(rng: np.random.Generator, bench: Bench, player: str, source: str) -> Sweep:
    """A survey: middle C again every five notes, drift as a line and a walk, reading noise."""
    order: list[float] = []
    for place, note in enumerate(bench.notes):
        if place % 5 == 0:
            order.append(60.0)
        if note != 60.0:
            order.append(float(note))
    order.append(60.0)
    base, rate = rng.normal(0.0, 10.0), rng.normal(0.0, 0.3)
    walk = np.cumsum(rng.normal(0.0, 0.02 * np.sqrt(SECONDS_A_NOTE / 60.0), len(order)))
    level = float(10.0 ** rng.uniform(-2.0, -1.0))
    both = dict(zip(bench.notes, bench.curves[player] + bench.curves[source], strict=True))
    points = []
    for count, note in enumerate(order):
        t_s = count * SECONDS_A_NOTE
        u_cents = level * float(rng.uniform(0.7, 1.5))
        cents = both[note] + base + rate * t_s / 60.0 + walk[count] + rng.normal(0.0, u_cents)
        f_hz = float(hertz(np.array([note]))[0] * 2.0 ** (cents / 1200.0))
        points.append(Point(note, float(volts(np.array([note]))[0]), f_hz, u_cents, t_s))
    return Sweep(player, source, tuple(points))
