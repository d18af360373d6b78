"""Warm-up approaches the settled temperature exponentially."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pitchwright.errors import InternalError
from pitchwright.practice import WarmUp


def test_two_stages() -> None:
    below_k = WarmUp((6.0, 2.0), (100.0, 1000.0), on_for_s=100.0).below_k(np.array([0.0, 900.0]))
    assert below_k[0] == pytest.approx(6.0 / math.e + 2.0 * math.exp(-0.1))
    assert below_k[1] == pytest.approx(6.0 * math.exp(-10.0) + 2.0 / math.e)


def test_settled_for_ever() -> None:
    assert not WarmUp((6.0,), (100.0,)).below_k(np.arange(5.0)).any()


@pytest.mark.parametrize(("rise_k", "tau_s"), [((1.0,), ()), ((1.0,), (0.0,))])
def test_an_impossible_warm_up_is_refused(
    rise_k: tuple[float, ...], tau_s: tuple[float, ...]
) -> None:
    with pytest.raises(InternalError):
        WarmUp(rise_k, tau_s)
