import numpy as np
import pytest

from pitchwright.pitch.phase import PhaseTrack, Wander

BLOCKS, DURATION_S = 48, 2.0
T_S = (np.arange(BLOCKS) + 0.5) / BLOCKS * DURATION_S - DURATION_S / 2
FINE = 50


def walk(strength: float, rng: np.random.Generator) -> tuple[np.ndarray, float]:
    """A random walk averaged in blocks, and what it gained from end to end."""
    steps = rng.standard_normal(BLOCKS * FINE) * np.sqrt(strength * DURATION_S / (BLOCKS * FINE))
    path = np.cumsum(steps)
    return path.reshape(BLOCKS, FINE).mean(axis=1), float(path[-1])


def test_white_noise_is_not_taken_for_a_walk() -> None:
    rng = np.random.default_rng(6)
    seen = [
        PhaseTrack(T_S, rng.standard_normal(BLOCKS), np.ones(BLOCKS)).wander().rad2_per_s > 0
        for _ in range(400)
    ]
    assert np.mean(seen) < 0.06


@pytest.mark.parametrize("noise", [1e-3, 0.05])
def test_a_walk_is_measured(noise: float) -> None:
    rng = np.random.default_rng(7)
    strengths = []
    for _ in range(200):
        phase = walk(1.0, rng)[0] + noise * rng.standard_normal(BLOCKS)
        strengths.append(PhaseTrack(T_S, phase, np.full(BLOCKS, noise**2)).wander().rad2_per_s)
    assert np.mean(strengths) == pytest.approx(1.0, rel=0.15)


def test_the_gain_of_a_walk_is_found_better_than_by_a_line() -> None:
    rng = np.random.default_rng(8)
    line, best = [], []
    for _ in range(300):
        phase, gained = walk(1.0, rng)
        slope = gained / DURATION_S
        track = PhaseTrack(T_S, phase, np.full(BLOCKS, 1e-9))
        line.append(float(T_S @ phase / (T_S @ T_S)) - slope)
        best.append(track.slope_with(Wander(1.0, 45)) - slope)
    assert np.std(best) < 0.4 * np.std(line)


def test_a_bend_is_found_within_its_uncertainty() -> None:
    rng = np.random.default_rng(9)
    pulls = []
    for _ in range(300):
        track = PhaseTrack(T_S, 3.0 * T_S**2 + rng.standard_normal(BLOCKS), np.ones(BLOCKS))
        bend, u = track.bend()
        pulls.append((bend - 3.0) / u)
    assert np.std(pulls) == pytest.approx(1.0, rel=0.15)
    assert abs(np.mean(pulls)) < 0.2


def test_the_slope_variance_of_white_noise_is_that_of_a_line() -> None:
    rng = np.random.default_rng(10)
    seen = [
        PhaseTrack(T_S, rng.standard_normal(BLOCKS), np.ones(BLOCKS)).slope_variance()
        for _ in range(300)
    ]
    assert np.mean(seen) == pytest.approx(1.0 / float(T_S @ T_S), rel=0.15)
