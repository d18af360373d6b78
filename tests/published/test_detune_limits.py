"""How even beats can be, by a general minimiser that knows nothing of linear programmes.

The ratios 1.06, 1.26, 1.67 and 3.68 over one, two, three and five octaves are computed, not
published: by the closed form of a line against a falling exponential, and by scipy's general
minimiser (differential evolution).
"""

import math
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import differential_evolution, minimize_scalar

from pitchwright.detune import even
from pitchwright.units import note_to_hz

LOW = 45  # A2, 110 Hz


@pytest.mark.parametrize(("octaves", "ratio"), [(1, 1.06), (2, 1.26), (3, 1.67), (5, 3.68)])
def test_known_ratios(octaves: int, ratio: float) -> None:
    assert even(0.01, LOW, LOW + 12 * octaves).ratio == pytest.approx(ratio, abs=0.005)


@pytest.mark.parametrize("octaves", [1, 2, 3, 5])
def test_closed_form(octaves: int) -> None:
    """2^v · (1 + b·v) equal at both ends, its top between them; for beats small against f."""
    b = (2.0**-octaves - 1.0) / octaves
    top = minimize_scalar(
        lambda v: -(2.0**v) * (1.0 + b * v), bounds=(0.0, octaves), method="bounded"
    )
    # Only semitones are played, so the top may fall between two of them.
    assert even(1e-4, LOW, LOW + 12 * octaves).ratio == pytest.approx(-top.fun, rel=2e-3)


@pytest.mark.parametrize(
    ("octaves", "slowest_hz", "high_end"),
    [
        (1, 0.5, False),
        (2, -2.0, False),
        (3, 0.5, False),
        (5, 0.5, False),
        (5, -2.0, False),
        (2, 0.5, True),
        (5, 0.5, True),
        (5, -2.0, True),
    ],
)
def test_a_general_minimiser_finds_the_same(
    octaves: int, slowest_hz: float, high_end: bool
) -> None:
    plan = even(slowest_hz, LOW, LOW + 12 * octaves, high_end=high_end)
    notes = np.array(plan.notes, dtype=np.float64)
    f_hz = note_to_hz(notes)[:, None]
    share = ((notes - notes[0]) / (notes[-1] - notes[0]))[:, None]
    bend = (f_hz - f_hz[0]) / (f_hz[-1] - f_hz[0]) - share

    def fastest(shapes: NDArray[np.float64], /) -> Any:
        """Fastest to slowest wanted, dear where one is slower; shape (3, trials) to (trials,)."""
        bottom, top, middle = np.atleast_2d(shapes.T).T
        cents = bottom + (top - bottom) * share + (middle * bend if high_end else 0.0)
        beats = f_hz * np.expm1(cents * math.log(2.0) / 1200.0) / slowest_hz
        short = np.maximum(0.0, 1.0 - beats.min(axis=0))
        return np.asarray(beats.max(axis=0) + 100.0 * short)

    start, end = (1731.23 * slowest_hz / float(f) for f in (f_hz[0, 0], f_hz[-1, 0]))
    edges = sorted((0.5 * start, 2.5 * start)), sorted((0.5 * end, 8.0 * end))
    bend_edges = [-2.0 * abs(start), 2.0 * abs(start)] if high_end else [-1.0, 1.0]
    found = differential_evolution(
        fastest,
        np.array([*edges, bend_edges]).tolist(),
        rng=np.random.default_rng(5),
        maxiter=600,
        popsize=20,
        tol=1e-9,
        polish=False,
        updating="deferred",
        vectorized=True,
    )
    assert plan.ratio <= found.fun * 1.0005
    assert plan.ratio == pytest.approx(found.fun, rel=0.01)


def test_five_octaves_from_110_hz_leave_half_a_cent_at_the_top() -> None:
    plan = even(1.0, LOW, LOW + 60)
    assert plan.voices[1].cents[-1] == pytest.approx(0.5, abs=0.05)
    # One in twenty turns round when the ends are set to 0.3 cent: by drawing, not by formula.
    drawn = np.random.default_rng(7).normal(0.0, 0.3, size=(200_000, 2))
    crossed = (drawn + np.array(plan.voices[1].cents)[[0, -1]] < 0.0).any(axis=1).mean()
    assert crossed == pytest.approx(0.05, abs=0.005)
    assert plan.crossing_probability == pytest.approx(crossed, abs=0.003)
    assert any("Beyond three octaves" in warning for warning in plan.warnings)
    assert not even(1.0, LOW, LOW + 36).warnings
