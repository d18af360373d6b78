"""Allan deviation of two published test sets.

Source: W. J. Riley, *Handbook of Frequency Stability Analysis*, NIST Special Publication 1065
(2008), test suite, about pages 107 to 109: nine frequencies, and 1000 points of a prescribed
generator. Read second-hand (a general-purpose library's tests quote the pages); every value
recomputed. Total deviation is the handbook's doubly reflected form; an earlier paper prints other
values for the same set (98.31100; 9.172131e-2, 3.501795e-2), which are not to be met.
"""

from __future__ import annotations

from collections.abc import Callable

import allantools
import numpy as np
import pytest
from numpy.typing import NDArray

from pitchwright.stability import NoiseKind, allan_deviation

Array = NDArray[np.float64]

NINE = np.array([892.0, 809.0, 823.0, 798.0, 671.0, 644.0, 883.0, 903.0, 677.0])
NINE_TABLE = {
    "adev": (91.22945, 115.8082),
    "oadev": (91.22945, 85.95287),
    "mdev": (91.22945, 74.78849),
    "tdev": (52.67135, 86.35831),
    "hdev": (70.80607, 116.7980),
    "ohdev": (70.80607, 85.61487),
    "totdev": (91.22945, 93.90379),
}
THOUSAND_TABLE = {
    "adev": (2.922319e-1, 9.965736e-2, 3.897804e-2),
    "oadev": (2.922319e-1, 9.159953e-2, 3.241343e-2),
    "mdev": (2.922319e-1, 6.172376e-2, 2.170921e-2),
    "tdev": (1.687202e-1, 3.563623e-1, 1.253382),
    "hdev": (2.943883e-1, 1.052754e-1, 3.910861e-2),  # printed 3.910860e-2: last digit
    "ohdev": (2.943883e-1, 9.581083e-2, 3.237638e-2),
    "totdev": (2.922319e-1, 9.134743e-2, 3.406530e-2),
}


def thousand() -> Array:
    seeds = [1234567890]
    for _ in range(999):
        seeds.append(16807 * seeds[-1] % 2147483647)
    assert seeds[1:4] == [395529916, 1209410747, 633705974]
    return np.array(seeds) / 2147483647.0


def test_overlapping_deviation_of_the_nine() -> None:
    steady = allan_deviation(np.arange(9.0), NINE)
    assert steady.tau_s == (1.0, 2.0)
    assert steady.adev_cents == pytest.approx(NINE_TABLE["oadev"], rel=1e-6)


def test_overlapping_deviation_of_the_thousand() -> None:
    steady = allan_deviation(np.arange(1000.0), thousand())
    at = dict(zip(steady.tau_s, steady.adev_cents, strict=True))
    assert [at[1.0], at[10.0], at[100.0]] == pytest.approx(THOUSAND_TABLE["oadev"], rel=3e-7)


def test_reading_interval_scales_the_times_only() -> None:
    steady = allan_deviation(np.arange(1000.0) * 0.5, thousand())
    at = dict(zip(steady.tau_s, steady.adev_cents, strict=True))
    assert [at[0.5], at[5.0], at[50.0]] == pytest.approx(THOUSAND_TABLE["oadev"], rel=3e-7)


def test_the_thousand_are_white() -> None:
    # The generator's numbers are independent: white frequency noise in the handbook's terms.
    steady = allan_deviation(np.arange(1000.0), thousand())
    assert steady.short is NoiseKind.WHITE
    assert steady.long is NoiseKind.WHITE


@pytest.mark.parametrize("kind", NINE_TABLE)
def test_the_library_underneath(kind: str) -> None:
    """Guard the dependency: a new version that changes a definition must not pass unseen."""
    deviation: Callable[..., tuple[Array, Array, Array, Array]] = getattr(allantools, kind)
    _, nine, _, _ = deviation(NINE, 1.0, "freq", [1, 2])
    assert nine == pytest.approx(NINE_TABLE[kind], rel=2e-7)
    _, many, _, _ = deviation(thousand(), 1.0, "freq", [1, 10, 100])
    assert many == pytest.approx(THOUSAND_TABLE[kind], rel=3e-7)
