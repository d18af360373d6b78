"""Simulated warm-ups for these tests: written in the time domain, apart from the benchmark's."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

Array = NDArray[np.float64]
MakeCents = Callable[..., Array]


@pytest.fixture
def rng() -> np.random.Generator:
    return np.random.default_rng(20260)


@pytest.fixture
def warm_up(rng: np.random.Generator) -> MakeCents:
    """Exponentials plus noise plus a wander of relaxing disturbances."""

    def make(
        t_s: Array,
        *parts: tuple[float, float],
        noise_cents: float = 0.03,
        wander_cents: float = 0.0,
    ) -> Array:
        cents = noise_cents * rng.standard_normal(t_s.size)
        for amplitude_cents, tau_s in parts:
            cents += amplitude_cents * np.exp(-t_s / tau_s)
        step_s = float(np.median(np.diff(t_s)))
        for lifetime_s in (10.0, 100.0, 1000.0, 10000.0):
            keep = np.exp(-step_s / lifetime_s)
            push = rng.standard_normal(t_s.size) * np.sqrt(1.0 - keep**2)
            state = rng.standard_normal()
            for i in range(t_s.size):
                state = keep * state + push[i]
                cents[i] += wander_cents * state
        return cents

    return make
