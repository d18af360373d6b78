import numpy as np
import pytest

from pitchwright.pitch.fold import Fold


@pytest.mark.parametrize("harmonics", [1, 7, 200])
def test_folding_agrees_with_the_sum_written_out(harmonics: int) -> None:
    rng = np.random.default_rng(1)
    cycles = np.sort(rng.uniform(-20, 20, 3000))
    y = rng.standard_normal(3000)
    k = np.arange(harmonics + 1)
    direct = np.exp(-2j * np.pi * np.outer(k, cycles)) @ y
    got = Fold(cycles, harmonics).analyse(y, 1e-6)
    np.testing.assert_allclose(got, direct, atol=1e-5 * float(np.abs(y).sum()))


@pytest.mark.parametrize("harmonics", [1, 7, 200])
def test_unfolding_agrees_with_the_sum_written_out(harmonics: int) -> None:
    rng = np.random.default_rng(2)
    cycles = rng.uniform(-20, 20, 3000)
    k = np.arange(harmonics + 1)
    a = rng.standard_normal(harmonics + 1) + 1j * rng.standard_normal(harmonics + 1)
    a[0] = a[0].real
    direct = np.real(np.exp(2j * np.pi * np.outer(cycles, k)) @ a)
    got = Fold(cycles, harmonics).synthesise(a)
    np.testing.assert_allclose(got, direct, atol=1e-5 * float(np.abs(a).sum()))


def test_less_precision_takes_fewer_terms() -> None:
    fold = Fold(np.zeros(1), 60)
    assert fold.terms_for(1.0) == 1
    assert fold.terms_for(1e-2) < fold.terms_for(1e-6)
