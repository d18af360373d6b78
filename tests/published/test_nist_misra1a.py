"""A single exponential approach: y = b1 (1 - exp(-b2 x)).

Source: NIST/ITL Statistical Reference Datasets, nonlinear regression, Misra1a: data and certified
values read in Misra1a.dat and reproduced in 40 digits. It is the shape of a warm-up with one time
constant, of which the data show the first third.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import curve_fit

from pitchwright.stability import forecast
from pitchwright.stability.exponentials import averaged_decay

Array = NDArray[np.float64]

X = np.array(
    [
        77.6,
        114.9,
        141.1,
        190.8,
        239.9,
        289.0,
        332.8,
        378.4,
        434.8,
        477.3,
        536.8,
        593.1,
        689.1,
        760.0,
    ]
)
Y = np.array(
    [
        *(10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02),
        *(44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78),
    ]
)
CERTIFIED = (2.3894212918e2, 5.5015643181e-4)
CERTIFIED_SD = (2.7070075241, 7.2668688436e-6)
RESIDUAL_SD = 1.0187876330e-1


def model(x: Array, b1: float, b2: float) -> Array:
    one_each = np.arange(x.size)
    decay = averaged_decay(x, one_each, np.ones_like(one_each), np.array([1.0 / b2]))
    return np.asarray(b1 * (1.0 - decay[:, 0]))


@pytest.mark.parametrize("start", [(500.0, 1e-4), (250.0, 5e-4)])
def test_certified_fit_with_the_room_s_exponential(start: tuple[float, float]) -> None:
    found, covariance = curve_fit(model, X, Y, start, xtol=1e-13, ftol=1e-13, gtol=1e-13)
    assert found == pytest.approx(CERTIFIED, rel=1e-6)
    assert np.sqrt(np.diag(covariance)) == pytest.approx(CERTIFIED_SD, rel=1e-4)
    residual = Y - model(X, *found)
    assert np.sqrt(np.sum(residual**2) / 12.0) == pytest.approx(RESIDUAL_SD, rel=1e-6)


def test_forecast_from_these_data_holds_the_certified_rest() -> None:
    """With a unit of x a second and a unit of y a fifth of a cent.

    The forecast allows two time constants and wander, so it knows less than the certified fit,
    which was told that there is one and no wander; the certified curve must lie in its band.
    """
    found = forecast(X, Y / 5.0)
    ahead_s = np.array([760.0, 1500.0, 2500.0])
    _, low, high = found.curve(ahead_s)
    certified = model(ahead_s, *CERTIFIED) / 5.0
    assert np.all(low < certified)
    assert np.all(certified < high)
    middle, _, _ = found.curve(X)
    assert np.max(np.abs(middle - Y / 5.0)) < 3.0 * RESIDUAL_SD / 5.0
    # Certified: 1 cent over half an hour is left once exp(-b2 x) (1 - exp(-1800 b2)) 239 / 5 < 1.
    left = CERTIFIED[0] / 5.0 * -np.expm1(-1800.0 * CERTIFIED[1])
    ready_s = np.log(left) / CERTIFIED[1] - 760.0
    assert found.ready_in_low_s < ready_s < found.ready_in_high_s
