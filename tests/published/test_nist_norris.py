"""NIST StRD, data set Norris: calibration of ozone monitors, a straight line through 36 pairs.

Data and certified values: NIST/ITL Statistical Reference Datasets, file Norris.dat, read.
"""

import math

import numpy as np
import pytest

from pitchwright.tracking.fit import NoteGroups, fit

PAIRS = (
    (0.2, 0.1),
    (337.4, 338.8),
    (118.2, 118.1),
    (884.6, 888.0),
    (10.1, 9.2),
    (226.5, 228.1),
    (666.3, 668.5),
    (996.3, 998.5),
    (448.6, 449.1),
    (777.0, 778.9),
    (558.2, 559.2),
    (0.4, 0.3),
    (0.6, 0.1),
    (775.5, 778.1),
    (666.9, 668.8),
    (338.0, 339.3),
    (447.5, 448.9),
    (11.6, 10.8),
    (556.0, 557.7),
    (228.1, 228.3),
    (995.8, 998.0),
    (887.6, 888.8),
    (120.2, 119.6),
    (0.3, 0.3),
    (0.3, 0.6),
    (556.8, 557.6),
    (339.1, 339.3),
    (887.2, 888.0),
    (999.0, 998.5),
    (779.0, 778.9),
    (11.1, 10.2),
    (118.3, 117.6),
    (229.2, 228.9),
    (669.1, 668.4),
    (448.9, 449.2),
    (0.5, 0.2),
)
B0, S_B0 = -0.262323073774029, 0.232818234301152
B1, S_B1 = 1.00211681802045, 0.429796848199937e-3
RESIDUAL_SD, DOF = 0.884796396144373, 34


def test_line_and_its_uncertainty_are_as_certified() -> None:
    x, y = np.array(PAIRS).T
    # Several rows share an x; each pair is a reading of its own, so each gets its own group.
    fitted = fit(
        np.column_stack([np.ones_like(x), x]), y, NoteGroups.of(np.arange(len(x)), 0.0 * x)
    )
    assert fitted.coefficients == pytest.approx([B0, B1], rel=1e-10)
    assert fitted.u([1.0, 0.0]) == pytest.approx(S_B0, rel=1e-8)
    assert fitted.u([0.0, 1.0]) == pytest.approx(S_B1, rel=1e-8)
    assert fitted.note_scatter == pytest.approx(RESIDUAL_SD, rel=1e-8)
    assert math.sqrt(float(fitted.residuals @ fitted.residuals) / DOF) == pytest.approx(
        RESIDUAL_SD, rel=1e-10
    )
    assert fitted.dof == DOF
    assert fitted.effective_dof([0.0, 1.0]) == pytest.approx(DOF)
