import numpy as np
import pytest

from pitchwright.trim.after_hand import Guess, last_way, learned
from pitchwright.trim.belief import Belief, Notes, Wander

HAND, SPRINGS = Guess(0.0, 0.6), Guess(0.0, 0.2)


def test_the_last_way_is_that_of_the_last_change_above_the_noise() -> None:
    up_and_back = np.array([0.0, 1.0, 2.0, 3.0, 2.6, 2.2, 2.21, 2.19])
    assert last_way(up_and_back, 0.0) == -1.0
    assert last_way(np.array([0.0, 1.0, 2.0, 2.05]), 0.0) == 1.0
    assert last_way(np.array([0.1, 0.0, 0.05]), 0.0) == 0.0


def test_two_notes_tell_the_hand_from_a_scale_trimmer_that_springs_back() -> None:
    """Every note −0.5, and 0.1 cents an octave back down about 0 V after a way up."""
    shape = np.array([0.0, 5.0])
    hand, springs = learned(HAND, SPRINGS, 1.0, shape, -0.5 - 0.1 * shape, np.full(2, 0.02))
    assert hand.mean == pytest.approx(-0.5, abs=0.02)
    assert springs.mean == pytest.approx(0.1, abs=0.01)
    assert hand.u < HAND.u
    assert springs.u < SPRINGS.u


def test_a_base_trimmer_alone_cannot_tell_them_apart() -> None:
    ones = np.ones(2)
    hand, springs = learned(HAND, SPRINGS, 1.0, ones, np.full(2, -0.8), np.full(2, 0.02))
    assert hand.mean - springs.mean == pytest.approx(-0.8, abs=0.02)
    # By how unsure each was, not by halves (closed form of two normal priors and their sum).
    assert hand.mean == pytest.approx(-0.8 * 0.36 / 0.40, abs=0.02)


def test_it_is_never_surer_than_one_time_is_like_another() -> None:
    hand = HAND
    for _ in range(50):
        hand, _ = learned(hand, SPRINGS, 0.0, np.ones(2), np.zeros(2), np.full(2, 0.01))
    assert hand.u >= 0.08


def test_what_a_hand_warmed_dies_away_and_the_curve_is_what_stays() -> None:
    notes = Notes.of([24.0, 54.0, 84.0], 24.0, 440.0)
    quiet = Wander(walk_cents=0.01, rate_cents_per_min=0.001, scale_per_min=0.001)
    belief = Belief.fresh(notes, quiet)
    for i in range(3):
        belief = belief.heard(i, 0.0, 0.02, 0.0)
    belief = belief.warmed(1.5)
    for t_s in (1.0, 30.0, 60.0, 90.0, 150.0):
        sounds = -2.0 + 2.0 * np.exp(-t_s / 80.0)
        for i in (0, 2):
            belief = belief.heard(i, float(sounds), 0.02, t_s)
    assert belief.curve()[0] == pytest.approx(np.full(3, -2.0), abs=0.4)
    left, _ = belief.warm_cents
    assert left == pytest.approx(2.0 * np.exp(-150.0 / 80.0), abs=0.4)
    # As a hand comes again, what is still warm counts as it sounds.
    again = belief.taken_up()
    assert again.curve()[0] == pytest.approx(belief.curve()[0] + left, abs=1e-9)


def test_scale_drifts_in_the_belief_as_base_does() -> None:
    """0.2 cents an octave and minute about 0 V: in three minutes 3 cents at the top."""
    notes = Notes.of([24.0, 54.0, 84.0], 24.0, 440.0)
    belief = Belief.fresh(notes, Wander(walk_cents=0.05))
    for t_s in (0.0, 30.0, 60.0, 90.0):
        for i, v in enumerate((0.0, 2.5, 5.0)):
            belief = belief.heard(i, 0.2 * t_s / 60.0 * v, 0.03, t_s + i)
    cents, _ = belief.foresee([0, 2], [180.0, 180.0])
    assert cents[1] - cents[0] == pytest.approx(3.0, abs=0.5)


def test_a_drift_no_larger_than_its_doubt_counts_as_none() -> None:
    notes = Notes.of([24.0, 54.0, 84.0], 24.0, 440.0)
    belief = Belief.fresh(notes, Wander())
    assert belief.drift_cents(60.0) == 0.0
    for k in range(8):
        belief = belief.heard(0, 0.8 * k, 0.03, 60.0 * k)
    assert 0.3 < belief.drift_cents(60.0) < 0.9
