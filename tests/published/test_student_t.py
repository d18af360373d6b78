"""Student's t as GUM table G.2 lays it out, and the effective degrees of freedom of GUM G.4.1.

JCGM 100:2008, annex G. Table: computed; the rows marked read were compared to two decimals with a
reprint of the table in a calibration training slide (2011). Example G.4.1 (u of 0.25, 0.57 and
0.82 % from 10, 5 and 15 observations: 19 degrees of freedom, t95 = 2.09): from memory, computed.
Table G.1 (k = 2 covers 95.45 %): computed, layout from memory.
"""

import math

import pytest

from pitchwright.tracking.coverage import K2, combined_dof, coverage_factor

PROBABILITIES = (0.6827, 0.90, 0.95, 0.9545, 0.99, 0.9973)
# Degrees of freedom; t for 68.27, 90, 95, 95.45, 99 and 99.73 %.
TABLE = (
    (1, 1.8374, 6.3138, 12.7062, 13.9678, 63.6567, 235.7837),  # read
    (2, 1.3213, 2.9200, 4.3027, 4.5266, 9.9248, 19.2060),  # read
    (3, 1.1969, 2.3534, 3.1824, 3.3068, 5.8409, 9.2187),  # read
    (4, 1.1417, 2.1318, 2.7764, 2.8693, 4.6041, 6.6201),  # read
    (5, 1.1105, 2.0150, 2.5706, 2.6487, 4.0321, 5.5070),  # read
    (6, 1.0906, 1.9432, 2.4469, 2.5165, 3.7074, 4.9040),  # read
    (7, 1.0767, 1.8946, 2.3646, 2.4288, 3.4995, 4.5299),  # read
    (8, 1.0666, 1.8595, 2.3060, 2.3664, 3.3554, 4.2766),  # read
    (9, 1.0588, 1.8331, 2.2622, 2.3198, 3.2498, 4.0942),  # read
    (10, 1.0526, 1.8125, 2.2281, 2.2837, 3.1693, 3.9569),  # read
    (12, 1.0435, 1.7823, 2.1788, 2.2314, 3.0545, 3.7642),  # computed only
    (15, 1.0345, 1.7531, 2.1314, 2.1812, 2.9467, 3.5864),  # computed only
    (20, 1.0257, 1.7247, 2.0860, 2.1330, 2.8453, 3.4221),  # read
    (25, 1.0204, 1.7081, 2.0595, 2.1051, 2.7874, 3.3296),  # computed only
    (30, 1.0170, 1.6973, 2.0423, 2.0868, 2.7500, 3.2703),  # computed only
    (50, 1.0101, 1.6759, 2.0086, 2.0513, 2.6778, 3.1571),  # read
    (100, 1.0050, 1.6602, 1.9840, 2.0253, 2.6259, 3.0767),  # computed only
    (math.inf, 1.0000, 1.6449, 1.9600, 2.0000, 2.5758, 3.0000),  # read
)


@pytest.mark.parametrize("row", TABLE)
def test_table(row: tuple[float, ...]) -> None:
    dof, *printed = row
    for probability, t in zip(PROBABILITIES, printed, strict=True):
        assert coverage_factor(dof, probability) == pytest.approx(t, abs=5.1e-5)


def test_k_2_is_the_normal_case() -> None:
    assert pytest.approx(0.9545, abs=5e-5) == K2
    assert coverage_factor(math.inf) == pytest.approx(2.0, abs=1e-9)


def test_effective_degrees_of_freedom() -> None:
    effective = combined_dof((0.25, 9.0), (0.57, 4.0), (0.82, 14.0))
    assert effective == pytest.approx(19.0, abs=0.01)
    assert coverage_factor(int(effective + 0.5), 0.95) == pytest.approx(2.09, abs=0.005)
    assert combined_dof((1.0, math.inf)) == math.inf
