from itertools import pairwise

import numpy as np

from pitchwright.trim.live_track import jump_cents, standing_start, steps_about, went_wrong_way

NOISE = np.random.default_rng(1).normal(0.0, 0.05, 40)


def test_wrong_way_is_told_from_the_first_degrees() -> None:
    away = np.concatenate([[0, 0, -0.3, -0.9, -0.4], np.linspace(0.0, 10.0, 20)])
    straight = np.concatenate([[0, 0], np.linspace(0.0, 12.0, 20), [11.0, 10.1]])
    assert went_wrong_way(away, 0.0, 10.0)
    assert not went_wrong_way(straight, 0.0, 10.0)
    assert went_wrong_way(-away, 0.0, -10.0)


def test_drift_before_the_hand_begins_is_not_the_wrong_way() -> None:
    assert not went_wrong_way(np.linspace(-1.0, 10.0, 30), 0.0, 10.0)


def test_creeping_off_is_drift_until_it_is_too_much() -> None:
    assert not went_wrong_way(np.linspace(0.0, -1.2, 60), 0.0, 10.0)
    assert went_wrong_way(np.linspace(0.0, -3.0, 60), 0.0, 10.0)


def test_where_the_reading_stood_as_the_hand_began() -> None:
    begun = standing_start(
        np.concatenate([np.full(4, 2.0), np.linspace(2.0, 9.0, 20)]) + NOISE[:24]
    )
    assert begun is not None
    assert abs(begun[0] - 2.0) < 3.0 * begun[1]
    assert standing_start(np.linspace(0.0, 30.0, 12)[1:] ** 2) is None
    assert standing_start(np.zeros(2)) is None


def test_a_knock_stands_out_of_a_turn() -> None:
    track = np.linspace(0.0, 8.0, 40) + NOISE
    track[20:] += 5.0
    jump = jump_cents(track)
    assert jump is not None
    assert abs(jump - 5.0) < 0.5
    assert jump_cents(np.linspace(0.0, 8.0, 40) + NOISE) is None


LEVELS = np.array([-6.9, -3.9, -3.9, -0.9, 2.1, 2.1, 2.1, -0.9, -0.9, -0.9, 2.1, 2.1, -0.9, -0.9])


def test_steps_are_told_from_evenly_spaced_places() -> None:
    steps = steps_about([LEVELS + NOISE[:14], LEVELS[7:] + NOISE[20:27]], 0.3)
    assert steps is not None
    assert abs(steps.size_cents - 3.0) < 0.1
    assert abs(steps.nearest_cents + 0.9) < 0.15


def test_a_smooth_trimmer_has_no_steps_however_often_it_is_nudged() -> None:
    rng = np.random.default_rng(5)
    for _ in range(40):
        places = np.cumsum(rng.normal(0.0, 1.0, 8))
        tracks = [
            np.concatenate([np.full(3, a), np.linspace(a, b, 4), np.full(3, b)])
            + rng.normal(0.0, 0.1, 10)
            for a, b in pairwise(places)
        ]
        assert steps_about(tracks, 0.0) is None


def test_one_hop_does_not_make_a_stepped_trimmer() -> None:
    assert steps_about([np.repeat([-1.0, 1.0], 8) + NOISE[:16]], 0.3) is None
    assert steps_about([np.zeros(1)], 0.3) is None
