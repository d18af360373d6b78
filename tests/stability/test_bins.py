from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from pitchwright.stability.bins import gather


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
