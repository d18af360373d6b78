import numpy as np
import pytest

from pitchwright.trim.aim import Lever
from pitchwright.trim.kinds import TrimmerKind
from pitchwright.trim.trimmer import Trimmer
from pitchwright.trim.verdict import u_best


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


def test_errors_that_move_together_leave_the_best_possible_sure() -> None:
    """A base common to all notes is trimmed out: it makes the best possible no less sure."""
    cv = np.array([0.0, 0.5, 1.0])
    levers = [
        Lever(Trimmer("b", TrimmerKind.BASE_FINE), np.ones(3)),
        Lever(Trimmer("s", TrimmerKind.SCALE), cv),
    ]
    together, opposed = np.ones((3, 3)), np.outer([1.0, -1.0, 1.0], [1.0, -1.0, 1.0])
    assert u_best(cv**2, 0.04 * together, levers)[0] == pytest.approx(0.0, abs=1e-9)
    # Errors that alternate as the deciding notes do add up: (1 + 2 + 1) / 4 of 0.2.
    assert u_best(cv**2, 0.04 * opposed, levers)[0] == pytest.approx(0.2)
