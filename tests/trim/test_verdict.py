import numpy as np
import pytest

from pitchwright.trim.aim import Lever
from pitchwright.trim.kinds import TrimmerKind
from pitchwright.trim.trimmer import Trimmer
from pitchwright.trim.verdict import conforms, holds_cents, u_best, widest_run


def test_guard_band_is_twice_u() -> None:
    assert conforms(np.array([0.89, -0.91]), np.full(2, 0.05), 1.0).tolist() == [True, False]
    assert holds_cents(np.array([0.8, -0.9]), np.array([0.2, 0.1])) == pytest.approx(1.2)


def test_widest_run() -> None:
    assert widest_run(np.array([True, False, True, True, False])) == (2, 3)
    assert widest_run(np.zeros(3, dtype=bool)) is None


def test_u_of_the_best_possible_follows_from_the_notes_that_decide_it() -> None:
    """x² on [0, 1], three notes: best line leaves 1/8 = (e0 - 2 e1 + e2) / 4 in size."""
    cv = np.array([0.0, 0.5, 1.0])
    levers = [
        Lever(Trimmer("b", TrimmerKind.BASE_FINE), np.ones(3)),
        Lever(Trimmer("s", TrimmerKind.SCALE), cv),
    ]
    u, deciding = u_best(cv**2, 0.04 * np.eye(3), levers)
    assert deciding == [0, 1, 2]
    assert u == pytest.approx(0.2 * np.sqrt(0.25**2 + 0.5**2 + 0.25**2))
