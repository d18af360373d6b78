from typing import Any

import numpy as np
import pytest

from pitchwright.trim.belief import Belief, Notes, Wander

NOTES = Notes.of(list(np.arange(24.0, 85.0, 12.0)), 24.0, 440.0)


def surveyed(curve: Any, u: Any = 0.03) -> Any:
    belief = Belief.fresh(NOTES, Wander())
    for i, cents in enumerate(curve):
        belief = belief.heard(i, float(cents), u, 1.5 * i)
    return belief


def test_two_notes_bring_the_whole_curve_back_after_a_move() -> None:
    source = np.array([0.3, -0.4, 0.2, 0.5, -0.3, 0.1])
    before = 12.0 * NOTES.cv_v - 20.0 + source
    belief = surveyed(before).moved()
    after = before - 11.0 * NOTES.cv_v + 6.0
    belief = belief.heard(5, float(after[5]), 0.03, 40.0).heard(0, float(after[0]), 0.03, 42.0)
    curve, covariance = belief.curve()
    assert curve == pytest.approx(after, abs=0.25)
    assert np.sqrt(np.diag(covariance)).max() < 0.25


def test_a_steady_drift_is_learned_and_carried_on() -> None:
    belief = Belief.fresh(NOTES, Wander(walk_cents=0.01, rate_cents_per_min=1.0))
    for k in range(12):
        belief = belief.heard(3, 0.5 * k, 0.02, 60.0 * k)
    cents, _ = belief.foresee([3], [60.0 * 13])
    assert cents[0] == pytest.approx(0.5 * 13, abs=0.1)


def test_uncertainty_grows_with_time_and_time_does_not_go_back() -> None:
    belief = surveyed(np.zeros(6))
    now, later = belief.curve()[1], belief.at(600.0).curve()[1]
    assert (np.diag(later) > np.diag(now)).all()
    assert belief.at(0.0) is belief


def test_the_droop_follows_the_curve() -> None:
    """150 cents sharp at the top, droop counts at the frequency that sounds."""
    cents = NOTES.high(150.0) / NOTES.high(0.0)
    assert cents == pytest.approx(np.full(6, 2.0 ** (150.0 / 1200.0)))


def test_readings_that_keep_surprising_raise_the_walk_and_quiet_ones_do_not_lower_it() -> None:
    belief = surveyed(np.zeros(6))
    calm, wild = belief, belief
    for _ in range(10):
        calm, wild = calm.surprised(0.0, 0.1), wild.surprised(0.3, 0.1)
    assert calm.walk_cents == belief.wander.walk_cents
    assert wild.walk_cents > 2.0 * belief.wander.walk_cents
    assert (np.diag(wild.at(600.0).curve()[1]) > np.diag(belief.at(600.0).curve()[1])).all()


def test_one_reading_alone_says_little_about_the_walk() -> None:
    belief = surveyed(np.zeros(6)).surprised(100.0, 0.1)
    assert belief.walk_cents < 1.6 * belief.wander.walk_cents
