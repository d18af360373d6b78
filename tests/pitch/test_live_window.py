import numpy as np
import pytest
from numpy.typing import NDArray

from pitchwright.pitch.live_noise import Noise, learned
from pitchwright.pitch.live_window import choose_window, estimate

Array = NDArray[np.float64]
BITE_S, F_HZ = 0.0125, 400.0
HZ_PER_CENT = F_HZ * np.log(2) / 1200


def track(cents: Array, noise_rad: float = 1e-4, seed: int = 1) -> Array:
    """Phase of a pitch that is so many cents off in each bite."""
    phase = 2 * np.pi * HZ_PER_CENT * BITE_S * np.cumsum(cents)
    return np.asarray(phase + noise_rad * np.random.default_rng(seed).standard_normal(len(cents)))


def test_a_still_pitch_is_averaged_over_everything() -> None:
    phase = track(np.full(120, 3.0))
    assert choose_window(phase, BITE_S, F_HZ, Noise(1e-8, 20.0), 4) == 120


@pytest.mark.parametrize("since", [2, 4, 8, 20])
def test_the_window_ends_where_the_pitch_moved(since: int) -> None:
    cents = np.zeros(120)
    cents[-since:] = 1.0
    bites = choose_window(track(cents), BITE_S, F_HZ, Noise(1e-8, 20.0), 4)
    assert bites <= max(since + 1, 4)


def test_a_gliding_pitch_is_averaged_over_as_little_as_may_be() -> None:
    cents = np.linspace(0.0, 30.0, 120)
    assert choose_window(track(cents), BITE_S, F_HZ, Noise(1e-8, 20.0), 4) <= 8


@pytest.mark.parametrize("walk", [0.0, 1e-4])
@pytest.mark.parametrize("bites", [6, 24, 100])
def test_twice_the_uncertainty_covers_the_error_nineteen_times_in_twenty(
    bites: int, walk: float
) -> None:
    """Random walk and white noise of known strength: the truth is known without any sound."""
    covered, tries = 0, 400
    rng = np.random.default_rng(bites)
    for seed in range(tries):
        noise = Noise(1e-8, 4.0)
        phase = track(np.full(bites, 2.0), 1e-4, seed)
        phase += np.cumsum(np.sqrt(walk * BITE_S) * rng.standard_normal(bites))
        level = 1e-4 * rng.standard_normal(bites)
        for _ in range(4):  # what noise there is must be learned first
            noise = learned(phase, level, bites if not noise.recent else 0, BITE_S, noise, 1e-8)
            found = estimate(phase, BITE_S, F_HZ, noise, lone=False)
            noise = found.noise
        covered += abs(found.off_hz / HZ_PER_CENT - 2.0) <= 2 * found.u_cents
    assert covered / tries > (0.93 if walk == 0.0 else 0.85)


def test_movement_within_the_window_is_in_the_uncertainty() -> None:
    phase = track(np.linspace(-5.0, 5.0, 16))
    noise = Noise(1e-8, 20.0)
    found = estimate(phase, BITE_S, F_HZ, noise, lone=False)
    assert found.moved_cents == pytest.approx(10.0, rel=0.1)
    assert found.u_cents == pytest.approx(10.0 / np.sqrt(12), rel=0.1)
