"""GUM H.3, calibration of a thermometer: a line, its uncertainties, correlation and prediction.

JCGM 100:2008, annex H.3, table H.6. Data and rounded results read second-hand (documentation of
the GTC library); residual deviation and degrees of freedom from memory; further digits computed by
ordinary least squares.
"""

import numpy as np
import pytest

from pitchwright.tracking.coverage import coverage_factor
from pitchwright.tracking.fit import Fit, NoteGroups, fit

T_C = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
B_C = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)


@pytest.fixture(scope="module")
def line() -> Fit:
    t, b = np.array(T_C), np.array(B_C)
    return fit(np.column_stack([np.ones_like(t), t - 20.0]), b, NoteGroups.of(t, 0.0 * t))


def test_line_as_printed(line: Fit) -> None:
    y1, y2 = line.coefficients
    assert (round(y1, 4), round(y2, 5)) == (-0.1712, 0.00218)
    assert (round(line.u([1, 0]), 4), round(line.u([0, 1]), 5)) == (0.0029, 0.00067)
    correlation = line.covariance[0, 1] / (line.u([1, 0]) * line.u([0, 1]))
    assert correlation == pytest.approx(-0.930, abs=5e-4)
    assert (round(line.note_scatter, 4), line.dof) == (0.0035, 9)


def test_line_to_all_digits(line: Fit) -> None:
    assert line.coefficients == pytest.approx([-0.1712037901313498, 0.002182697739887239])
    assert line.u([1, 0]) == pytest.approx(0.002877597835159954, rel=1e-8)
    assert line.u([0, 1]) == pytest.approx(0.0006679387732278318, rel=1e-8)


def test_prediction_at_30_degrees(line: Fit) -> None:
    at = np.array([1.0, 10.0])
    assert round(float(at @ line.coefficients), 4) == -0.1494
    # Without the correlation it would be 0.0073.
    assert round(line.u(at), 4) == 0.0041
    assert line.effective_dof(at) == pytest.approx(9.0)
    expanded = coverage_factor(line.effective_dof(at), 0.95) * line.u(at)
    assert expanded == pytest.approx(0.009362154026247049, rel=1e-6)
