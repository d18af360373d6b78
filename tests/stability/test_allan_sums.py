"""Allan deviation and kind of noise against allantools, which is nothing of ours."""

from __future__ import annotations

import allantools
import numpy as np
import pytest

from pitchwright.stability import allan


@pytest.mark.parametrize("factor", [1, 2, 7, 40])
def test_the_sums(rng: np.random.Generator, factor: int) -> None:
    part = np.cumsum(rng.standard_normal(300)) + 5.0 * rng.standard_normal(300)
    variance, pairs = allan._pooled([part], [factor])
    _, adev, _, count = allantools.oadev(part, 1.0, "freq", [factor])
    assert pairs[0] == count[0]
    assert variance[0] == pytest.approx(adev[0] ** 2, rel=1e-9)


def test_the_kind_of_noise(rng: np.random.Generator) -> None:
    kinds = {0: "WHITE", -1: "FLICKER"}
    for turn in range(40):
        white = rng.standard_normal(200)
        part = (white, np.cumsum(white), np.diff(white), white + 0.3 * np.cumsum(white))[turn % 4]
        for factor in (1, 3):
            exponent = int(allantools.autocorr_noise_id(part, factor, data_type="freq")[0])
            other = "SCATTER" if exponent > 0 else "WALK"
            assert allan._kind(part, factor).name == kinds.get(exponent, other)
