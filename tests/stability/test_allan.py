from __future__ import annotations

import numpy as np
import pytest

from pitchwright.errors import InputError
from pitchwright.stability import NoiseKind, allan_deviation


def test_white_noise_asks_for_the_longest_average(rng: np.random.Generator) -> None:
    steady = allan_deviation(np.arange(5000.0), 0.1 * rng.standard_normal(5000))
    assert steady.short is NoiseKind.WHITE
    assert steady.longer_may_help
    assert steady.best_tau_s >= 200.0
    assert steady.adev_cents[0] == pytest.approx(0.1, rel=0.05)
    assert "fresh scatter" in steady.why
    assert "longer record" in steady.sentence


def test_a_random_walk_asks_for_the_shortest(rng: np.random.Generator) -> None:
    steady = allan_deviation(np.arange(5000.0), np.cumsum(0.01 * rng.standard_normal(5000)))
    assert steady.short is NoiseKind.WALK
    assert steady.best_tau_s == 1.0
    assert not steady.longer_may_help
    assert "moved meanwhile" in steady.why


def test_scatter_on_a_walk_has_a_best_time_between(rng: np.random.Generator) -> None:
    """White σ and a walk of step w: the variance σ²/τ + w²τ/3 is least at τ = √3 σ/w, here 17 s.

    SP 1065, noise types: the Allan variances of white and of random-walk frequency noise.
    """
    cents = 0.1 * rng.standard_normal(40_000) + np.cumsum(0.01 * rng.standard_normal(40_000))
    steady = allan_deviation(np.arange(40_000.0), cents)
    assert steady.best_tau_s in (10.0, 20.0)
    assert (steady.short, steady.long) == (NoiseKind.WHITE, NoiseKind.WALK)
    assert "Over" in steady.why


def test_differenced_noise_partly_cancels(rng: np.random.Generator) -> None:
    steady = allan_deviation(np.arange(3000.0), np.diff(rng.standard_normal(3001)))
    assert steady.short is NoiseKind.SCATTER


def test_gaps_are_left_out_not_papered_over(rng: np.random.Generator) -> None:
    whole = 0.1 * rng.standard_normal(6000)
    # Two quiet hours between two halves of a record, and the second half a cent away.
    t_s = np.concatenate([np.arange(3000.0), 10_000.0 + np.arange(3000.0)])
    shifted = whole + np.where(t_s > 5000.0, 1.0, 0.0)
    steady, one = allan_deviation(t_s, shifted), allan_deviation(np.arange(6000.0), whole)
    assert steady.gaps == 1
    assert np.all(np.isfinite(steady.adev_cents))
    assert steady.adev_cents[:8] == pytest.approx(one.adev_cents[:8], rel=0.1)
    assert "1 gap left out" in steady.why


def test_a_long_gap_of_nan_is_a_gap(rng: np.random.Generator) -> None:
    cents = 0.1 * rng.standard_normal(3000)
    cents[1000:1200] = np.nan
    cents[50] = np.nan
    cents[60:62] = np.nan
    steady = allan_deviation(np.arange(3000.0), cents)
    assert (steady.gaps, steady.bridged) == (1, 3)
    assert np.all(np.isfinite(steady.adev_cents))


def test_uneven_times_are_put_on_a_grid(rng: np.random.Generator) -> None:
    t_s = np.arange(2000.0) + rng.uniform(-0.2, 0.2, 2000)
    steady = allan_deviation(t_s, 0.1 * rng.standard_normal(2000))
    assert steady.tau_s[0] == pytest.approx(1.0, rel=0.02)
    assert steady.gaps == 0


def test_constant_readings_have_no_kind() -> None:
    steady = allan_deviation(np.arange(200.0), np.zeros(200))
    assert steady.short is NoiseKind.UNKNOWN
    assert steady.best_cents == 0.0
    assert "does not move at all" in steady.why


def test_short_record_does_not_guess_the_kind() -> None:
    steady = allan_deviation(np.arange(12.0), np.arange(12.0) % 3)
    assert steady.short is NoiseKind.UNKNOWN


@pytest.mark.parametrize(
    ("t_s", "cents", "what"),
    [
        (np.arange(5.0), np.zeros(5), "Only 5 readings"),
        (np.arange(20.0), np.full(20, np.nan), "Only 0 readings"),
        (np.arange(20.0) % 3, np.zeros(20), "do not rise"),
        (np.zeros(20), np.zeros(20), "do not rise"),
        (np.zeros(1), np.zeros(1), "do not rise"),
    ],
)
def test_what_cannot_be_used(t_s: np.ndarray, cents: np.ndarray, what: str) -> None:
    with pytest.raises(InputError, match=what):
        allan_deviation(t_s, cents)
