"""Surveys in every world: readings of a known curve, moved by what that world does meanwhile."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from benchmarks.moves.worlds import World

from pitchwright.tracking import Point
from pitchwright.units import MIDDLE_C, cv_of_note, note_to_hz, ratio_of_cents

__all__ = ["DISTURBANCES", "Evening", "evening"]

NOTE_S = 1.3
READING_U_CENTS = 0.004
EVERY_KEY = tuple(float(n) for n in range(24, 97))


@dataclass(frozen=True, slots=True)
class Evening:
    """One survey and its truth, as it was half-way.

    Attributes
    ----------
    points
        The readings.
    cents
        Truth of every key from C1 to C7, played or not.
    base_cents, scale_cents_per_oct, high_cents_per_khz
        Truth of the model, base at middle C.
    """

    points: tuple[Point, ...]
    cents: dict[float, float] = field(repr=False)
    base_cents: float
    scale_cents_per_oct: float
    high_cents_per_khz: float


@dataclass(frozen=True, slots=True)
class Disturbance:
    """What goes wrong in the middle of a take, and the findings that name its cause."""

    name: str
    course: Callable[[float, float, np.random.Generator], float]
    """Cents at a time, of a survey that lasts so long; drawn once a survey by its generator."""


def _jump(t_s: float, whole_s: float, rng: np.random.Generator) -> float:
    at, size = rng.uniform(0.2, 0.8) * whole_s, rng.choice([-1.0, 1.0]) * rng.uniform(3.0, 30.0)
    return float(size) if t_s > at else 0.0


def _settling(t_s: float, whole_s: float, rng: np.random.Generator) -> float:
    size, time_s = rng.uniform(3.0, 30.0), rng.uniform(0.2, 1.5) * whole_s
    return float(-size * np.exp(-t_s / time_s))


def _spreading(t_s: float, whole_s: float, rng: np.random.Generator) -> float:
    size, time_s = rng.uniform(3.0, 30.0), rng.uniform(0.1, 0.5) * whole_s
    return float(-size / np.sqrt(1.0 + t_s / time_s))


def _stray(t_s: float, whole_s: float, rng: np.random.Generator) -> float:
    at, size = whole_s, rng.choice([-1.0, 1.0]) * rng.uniform(20.0, 200.0)
    return float(size) if abs(t_s - at) < 0.1 else 0.0


def _two_jumps(t_s: float, whole_s: float, rng: np.random.Generator) -> float:
    first, second = sorted(rng.uniform(0.1, 0.9, 2) * whole_s)
    a, b = rng.uniform(-20.0, 20.0, 2)
    return float(a * (t_s > first) + b * (t_s > second))


DISTURBANCES = (
    Disturbance("a jump of 3 to 30 cents", _jump),
    Disturbance("settling by 3 to 30 cents", _settling),
    Disturbance("settling with the root of time", _spreading),
    Disturbance("the last visit strays", _stray),
    Disturbance("two jumps", _two_jumps),
)


def evening(
    world: World,
    order: list[float],
    seed: int,
    disturbed: Disturbance | None = None,
    *,
    knee: bool = False,
    bent_scale: bool = False,
    tuned: bool = False,
) -> Evening:
    """One survey of one oscillator of a world.

    Parameters
    ----------
    world
        Sizes.
    order
        Notes in the order they are played.
    seed
        Of everything.
    disturbed
        What goes wrong besides.
    knee
        Whether the curve has one above C6 (another kind of world).
    bent_scale
        Whether the drift of the scale is quadratic in time (another kind of world).
    tuned
        Whether it was trimmed before, so that “inside” is often a matter of tenths.
    """
    rng = np.random.default_rng(seed)
    t_s = NOTE_S * np.arange(len(order))
    middle_s = float(t_s[-1]) / 2.0
    size = 0.06 if tuned else 1.0
    base, scale, high = size * np.array([5.0, 5.0, -2.0]) * [*rng.normal(size=2), abs(rng.normal())]
    bumps = {note: world.bump_cents * rng.normal() for note in EVERY_KEY}
    keys = np.array(EVERY_KEY)
    octaves, khz = (keys - MIDDLE_C) / 12.0, note_to_hz(keys) / 1000.0
    cents = base + scale * octaves + high * (khz - note_to_hz(MIDDLE_C) / 1000.0)
    cents += np.array([bumps[note] for note in EVERY_KEY])
    if knee:
        cents -= 6.0 * np.maximum((keys - 84.0) / 3.0, 0.0) ** 2
    truth = dict(zip(EVERY_KEY, map(float, cents), strict=True))

    steps = world.walk_cents * np.sqrt(NOTE_S / 60.0) * rng.normal(size=len(t_s))
    walk = np.cumsum(steps)
    walk -= np.interp(middle_s, t_s, walk)
    sign = rng.choice([-1.0, 1.0])
    time_s = rng.uniform(120.0, 600.0)
    rate = sign * world.base_per_min
    drift = (
        rate * time_s / 60.0 * (np.exp(-middle_s / time_s) - np.exp(-t_s / time_s))
        if world.settles
        else rate * (t_s - middle_s) / 60.0
    )
    if world.in_steps:
        places = rng.uniform(0.0, t_s[-1], rng.poisson(t_s[-1] / 30.0))
        sizes = rng.normal(size=len(places)) * world.base_per_min
        drift = (sizes * (t_s[:, None] > places)).sum(axis=1)
        drift -= (sizes * (middle_s > places)).sum()
    minutes = (t_s - middle_s) / 60.0
    bend = 4.0 * minutes * abs(minutes).max() if bent_scale else minutes
    turning_v = rng.uniform(0.0, 4.0)
    scales = rng.choice([-1.0, 1.0]) * world.scale_per_min * bend
    knocks = rng.uniform(0.0, t_s[-1], rng.poisson(world.knocks_per_hour * t_s[-1] / 3600.0))
    knocked = rng.uniform(2.0, 6.0, len(knocks)) * rng.choice([-1.0, 1.0], len(knocks))
    back = rng.standard_t(3, len(t_s)) if world.heavy else rng.normal(size=len(t_s))
    state = rng.bit_generator.state

    points = []
    for i, note in enumerate(order):
        moved = walk[i] + drift[i] + scales[i] * (cv_of_note(note) - turning_v)
        moved += float((knocked * (t_s[i] > knocks)).sum() - (knocked * (middle_s > knocks)).sum())
        if disturbed is not None:
            again = np.random.default_rng()
            again.bit_generator.state = state
            here = disturbed.course(float(t_s[i]), float(t_s[-1]), again)
            again.bit_generator.state = state
            moved += here - disturbed.course(middle_s, float(t_s[-1]), again)
        heard = truth[note] + moved + world.scatter_cents * back[i]
        heard += READING_U_CENTS * rng.normal()
        f_hz = note_to_hz(note) * ratio_of_cents(heard)
        points.append(Point(note, cv_of_note(note), f_hz, READING_U_CENTS, float(t_s[i])))
    return Evening(tuple(points), truth, base, scale, high)
