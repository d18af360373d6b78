from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from pitchwright.stability.time_constants import Cells, coarse_cells, split_cells


def weights(cells: Cells, *taus_s: float) -> NDArray[np.float64]:
    """All the weight on the model whose time constants are nearest to these."""
    near = [int(np.abs(np.log(cells.time_constants_s / tau_s)).argmin()) for tau_s in taus_s]
    first, second = cells.models
    return np.where((first == near[0]) & (second == near[-1]), 1.0, 0.0)


def test_cells_cover_the_scale_and_models_are_as_likely_as_their_cells() -> None:
    cells = coarse_cells()
    assert cells.time_constants_s[[0, -1]] == pytest.approx([120.0, 3600.0])
    assert cells.share.sum() == pytest.approx(1.0)
    one = cells.models[0] == cells.models[1]
    prior = np.exp(cells.log_prior)
    assert prior[one].sum() == pytest.approx(1.0)
    # Two different ones: all pairs but those within one cell.
    assert prior[~one].sum() == pytest.approx(1.0 - 1.0 / cells.share.size)


def test_weight_that_is_spread_needs_no_smaller_cells() -> None:
    cells = coarse_cells()
    assert split_cells(cells, np.ones(cells.models[0].size)) is None


def test_cells_close_in_on_two_time_constants() -> None:
    """As a fit would that is better the nearer the model is."""
    cells, taus_s = coarse_cells(), (300.0, 1800.0)
    for _ in range(4):
        smaller = split_cells(cells, weights(cells, *taus_s))
        assert smaller is not None
        cells = smaller
        assert np.all(np.diff(cells.time_constants_s) > 0.0)
    for tau_s in taus_s:
        off = np.abs(np.log(cells.time_constants_s / tau_s))
        assert off.min() < 0.002
    assert cells.share.size < 60


def test_a_cell_that_is_split_is_covered_by_its_parts() -> None:
    cells = coarse_cells()
    split = split_cells(cells, weights(cells, 600.0))
    assert split is not None
    near = int(np.abs(np.log(cells.time_constants_s / 600.0)).argmin())
    parts = np.isclose(split.share, cells.share[near] / 3.0)
    assert parts.sum() == 9
    log_s = np.log(split.time_constants_s[parts])
    assert np.diff(log_s) == pytest.approx(np.diff(np.log(cells.time_constants_s[:2]))[0] / 3.0)
    assert log_s[4] == pytest.approx(np.log(cells.time_constants_s[near]))
