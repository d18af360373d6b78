"""The lower bound for a frequency measurement.

D. C. Rife, R. R. Boorstyn, "Single-Tone Parameter Estimation from Discrete-Time Observations",
IEEE Transactions on Information Theory 20(5), 591-598, 1974; S. M. Kay, Fundamentals of
Statistical Signal Processing: Estimation Theory, 1993, ch. 3; for harmonic tones M. G.
Christensen, A. Jakobsson, Multi-Pitch Estimation, 2009. From memory, the single-tone constants
also read in public program texts; every figure below was confirmed by inverting the exact Fisher
matrix.
"""

import numpy as np
import pytest
from numpy.typing import NDArray

from pitchwright.pitch import read

Array = NDArray[np.float64]
CENTS_PER_NEPER = 1200 / np.log(2)

# N, amplitudes, phases, noise variance, asymptotic and exact variance of the frequency in rad².
TURN_RAD = 0.1473827927949194
FIVE = ([1, 1 / 2, 1 / 3, 1 / 4, 1 / 5], [0.7, 1.6, 4.3, 8.8, 15.1])
FISHER = [
    (1000, [1.0], [0.7], 1e-2, 2.4000024000023997e-10, 2.4024467320409967e-10),
    (1000, *FIVE, 1e-2, 4.8000048000048e-11, 4.7974748706663924e-11),
    (4800, *FIVE, 1e-2, 4.3402779661578976e-13, 4.3401781508770646e-13),
    (48_000, [1.0], [0.7], 1e-4, 2.1701388898307896e-17, 2.17006479143118e-17),
]
# SNR in dB, standard deviation in cents at 440 Hz and at 32.7032 Hz: 48 kHz, one second.
PRACTICAL = [
    (20, 9.90132337237494e-04, 1.332157796131563e-02),
    (40, 9.90132337237494e-05, 1.332157796131563e-03),
    (60, 9.90132337237494e-06, 1.332157796131563e-04),
]


def bound_rad2(n: int, amplitudes: Array, sigma2: float) -> float:
    """Var(w) ≥ 24 s² / (N (N² - 1) sum l² A_l²) for a real harmonic tone in white noise."""
    told = float(np.sum((np.arange(1, len(amplitudes) + 1) * amplitudes) ** 2))
    return 24 * sigma2 / (n * (n**2 - 1.0) * told)


@pytest.mark.parametrize(("n", "sizes", "phases", "sigma2", "asymptotic", "exact"), FISHER)
def test_the_formula_gives_the_published_constants(
    n: int, sizes: list[float], phases: list[float], sigma2: float, asymptotic: float, exact: float
) -> None:
    assert bound_rad2(n, np.array(sizes), sigma2) == pytest.approx(asymptotic, rel=1e-9)
    assert exact == pytest.approx(asymptotic, rel=2e-3)


@pytest.mark.parametrize(("n", "sizes", "phases", "sigma2", "asymptotic", "exact"), FISHER)
def test_readings_scatter_as_the_bound_allows_and_say_so(
    n: int, sizes: list[float], phases: list[float], sigma2: float, asymptotic: float, exact: float
) -> None:
    rate_hz = 48_000.0
    f_hz = TURN_RAD * rate_hz / (2 * np.pi)
    clean = np.zeros(n)
    for k, (size, phase) in enumerate(zip(sizes, phases, strict=True), start=1):
        clean += size * np.cos(k * TURN_RAD * np.arange(n) + phase)
    clean, sigma = 0.25 * clean, 0.25 * np.sqrt(sigma2)
    bound_cents = CENTS_PER_NEPER * np.sqrt(exact) / TURN_RAD
    _check_scatter(clean, sigma, rate_hz, f_hz, bound_cents)


@pytest.mark.parametrize(("snr_db", "at_440_cents", "at_32_cents"), PRACTICAL)
def test_a_second_of_sine_meets_the_worked_values(
    snr_db: float, at_440_cents: float, at_32_cents: float
) -> None:
    rate_hz = 48_000.0
    t_s = np.arange(48_000) / rate_hz
    sigma = 0.5 / np.sqrt(2) * 10 ** (-snr_db / 20)
    for f_hz, bound_cents in ((440.0, at_440_cents), (32.7032, at_32_cents)):
        _check_scatter(0.5 * np.sin(2 * np.pi * f_hz * t_s), sigma, rate_hz, f_hz, bound_cents)


def _check_scatter(
    clean: Array, sigma: float, rate_hz: float, f_hz: float, bound_cents: float
) -> None:
    runs = 60
    errors, stated = np.empty(runs), np.empty(runs)
    for i in range(runs):
        noise = sigma * np.random.default_rng(i).standard_normal(len(clean))
        reading = read(clean + noise, rate_hz)
        assert reading.f_hz is not None
        errors[i] = 1200 * np.log2(reading.f_hz / f_hz)
        stated[i] = reading.u_cents
    # The RMS of 60 draws is itself uncertain by 9 %: 0.75 to 1.25 is nearly three times that.
    assert 0.75 < np.sqrt(np.mean(errors**2)) / bound_cents < 1.25
    assert np.median(stated) == pytest.approx(bound_cents, rel=0.2)
