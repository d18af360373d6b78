from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitchwright.stability.bins import gather, thinned


@given(st.lists(st.floats(0.0, 900.0), min_size=1, max_size=200))
def test_every_reading_is_in_one_bin_and_bins_do_not_overlap(steps_s: list[float]) -> None:
    t_s = 100.0 + np.cumsum(steps_s)
    bins = gather(t_s)
    assert int(np.sum(bins.count)) == t_s.size
    assert np.all(bins.count > 0)
    assert bins.first[0] == 0
    assert np.all(np.diff(bins.first) == bins.count[:-1])
    assert np.all(bins.end_s > bins.start_s)
    assert np.all(bins.start_s[1:] >= bins.end_s[:-1] - 1e-3 - 1e-9)
    assert np.allclose(bins.mean(np.ones_like(t_s)), 1.0)


def test_bins_grow_and_a_day_stays_small() -> None:
    bins = gather(np.arange(0.0, 86400.0, 1.0))
    width_s = bins.end_s - bins.start_s
    assert width_s[0] == 20.0
    assert np.all(np.diff(width_s[:-1]) >= -1.0)
    assert width_s.max() <= 601.0
    assert bins.first.size < 300


def test_readings_a_second_apart_are_averaged_and_others_left_alone() -> None:
    t_s = np.arange(0.0, 101.0)
    temperature_c = np.where(t_s < 50.0, 21.0, np.nan)
    thin_s, cents, thin_c = thinned(t_s, 2.0 * t_s, temperature_c)
    assert thin_s[:3] == pytest.approx([2.0, 7.0, 12.0])
    assert thin_s[-1] == 100.0
    assert cents == pytest.approx(2.0 * thin_s)
    assert thin_c is not None
    assert thin_c[:10] == pytest.approx(21.0)
    assert np.all(np.isnan(thin_c[10:]))
    seldom_s = np.arange(0.0, 101.0, 5.0)
    assert thinned(seldom_s, seldom_s, None)[0] is seldom_s


def test_thinning_passes_over_gaps() -> None:
    t_s = np.concatenate([np.arange(0.0, 60.0), np.arange(100.0, 160.0)])
    thin_s, cents, _ = thinned(t_s, t_s, None)
    assert cents == pytest.approx(thin_s)
    assert np.all(np.diff(thin_s) >= 4.0)
    assert not np.any((thin_s > 60.0) & (thin_s < 100.0))
