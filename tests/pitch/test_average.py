import numpy as np
import pytest

from pitchwright.pitch.average import average

ORDERS = np.arange(1, 41)


def test_without_excess_scatter_it_is_the_weighted_mean() -> None:
    rng = np.random.default_rng(3)
    variances = 1.0 / ORDERS.astype(np.float64)
    values = 5.0 + np.sqrt(variances) * rng.standard_normal(40)
    got = average(values, variances, ORDERS)
    weights = 1 / variances
    assert got.mean == pytest.approx(float(weights @ values / weights.sum()), rel=1e-6)
    assert got.u == pytest.approx(weights.sum() ** -0.5, rel=1e-6)


def test_one_value_is_taken_as_it_is() -> None:
    got = average(np.array([2.0]), np.array([9.0]), np.array([1]))
    assert (got.mean, got.u) == (2.0, 3.0)


def test_an_outlier_hardly_counts() -> None:
    values = np.random.default_rng(4).normal(0.0, 1.0, 40)
    usual = average(values, np.ones(40), ORDERS)
    values[11] += 1e4
    assert abs(average(values, np.ones(40), ORDERS).mean - usual.mean) < 1.0


def test_a_shared_disturbance_widens_the_uncertainty_to_the_scatter() -> None:
    rng = np.random.default_rng(5)
    off, stated = [], []
    for _ in range(300):
        got = average(
            1e-3 * rng.standard_normal(40) + rng.normal(0, 1 / ORDERS), np.full(40, 1e-6), ORDERS
        )
        off.append(got.mean)
        stated.append(got.u)
    assert np.mean(stated) == pytest.approx(float(np.std(off)), rel=0.25)
