import numpy as np

from pitchwright.trim.live_track import gap_about, jump_cents, went_wrong_way

NOISE = np.random.default_rng(1).normal(0.0, 0.05, 40)


def test_wrong_way_is_told_from_the_first_degrees() -> None:
    away = np.concatenate([[0, 0, -0.3, -0.9, -0.4], np.linspace(0.0, 10.0, 20)])
    straight = np.concatenate([[0, 0], np.linspace(0.0, 12.0, 20), [11.0, 10.1]])
    assert went_wrong_way(away, 0.0, 10.0)
    assert not went_wrong_way(straight, 0.0, 10.0)
    assert went_wrong_way(-away, 0.0, -10.0)


def test_drift_before_the_hand_begins_is_not_the_wrong_way() -> None:
    assert not went_wrong_way(np.linspace(-1.0, 10.0, 30), 0.0, 10.0)


def test_a_knock_stands_out_of_a_turn() -> None:
    track = np.linspace(0.0, 8.0, 40) + NOISE
    track[20:] += 5.0
    jump = jump_cents(track)
    assert jump is not None
    assert abs(jump - 5.0) < 0.5
    assert jump_cents(np.linspace(0.0, 8.0, 40) + NOISE) is None


def test_steps_are_told_from_a_smooth_trimmer() -> None:
    levels = np.array([-6.0, -3.0, -1.0, -1.0, 2.0, 2.0, 2.0, -1.0, -1.0, 2.0, 2.0, -1.0, -1.0])
    gap = gap_about([levels + NOISE[:13]], 0.3)
    assert gap is not None
    assert abs(gap - 3.0) < 0.3
    smooth = np.concatenate([np.linspace(-6.0, 2.0, 20), np.linspace(2.0, -1.0, 12)])
    assert gap_about([smooth], 0.3) is None
