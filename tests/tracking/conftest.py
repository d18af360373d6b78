"""A simulated oscillator whose truth is known: the model of the room, with noise."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pytest

from pitchwright.tracking import Point
from pitchwright.units import MIDDLE_C, cents_between, cv_of_note, note_to_hz, ratio_of_cents

Played = Callable[..., list[Point]]


@pytest.fixture(scope="session")
def played() -> Played:
    return play


def play(
    notes: Sequence[float],
    *,
    base: float = 0.0,
    scale: float = 0.0,
    high_ns: float = 0.0,
    low: float = 0.0,
    drift: float = 0.0,
    note_scatter: float = 0.0,
    u_cents: float = 0.02,
    seconds: float = 3.0,
    returning: float = 0.0,
    seed: int | None = None,
) -> list[Point]:
    """Readings of ``notes`` in order; exact without a seed. ``base`` is at middle C, mid-survey."""
    rng = np.random.default_rng(seed)
    noisy = float(seed is not None)
    own = {note: noisy * note_scatter * rng.normal() for note in sorted(set(notes))}

    def bend(note: float) -> float:
        # A reset time t lengthens the period: 1/f = 1/f0 + t.
        f0 = note_to_hz(note) * ratio_of_cents(base + scale * (note - MIDDLE_C) / 12.0)
        return cents_between(1.0 / (1.0 + f0 * high_ns * 1e-9), 1.0) + low / f0

    points = []
    for i, note in enumerate(notes):
        t_s = i * seconds
        minutes = (t_s - (len(notes) - 1) * seconds / 2.0) / 60.0
        cents = base + scale * (note - MIDDLE_C) / 12.0 + bend(note) - bend(MIDDLE_C)
        cents += drift * minutes + own[note]
        cents += noisy * (u_cents * rng.normal() + (returning * rng.normal() if returning else 0.0))
        f_hz = note_to_hz(note) * ratio_of_cents(cents)
        points.append(Point(note, cv_of_note(note), f_hz, u_cents, t_s))
    return points
