import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import signal

from pitchwright.pitch.live_noise import Noise, learned
from pitchwright.pitch.live_window import choose_window, estimate

Array = NDArray[np.float64]
BITE_S, F_HZ = 0.0125, 80.0
HZ_PER_CENT = F_HZ * np.log(2) / 1200


def lasting(bites: int, rng: np.random.Generator) -> Array:
    """Noise that goes on in the same direction for several bites, its size 1e-3."""
    keeps = 0.8
    steps = np.sqrt(1 - keeps**2) * 1e-3 * rng.standard_normal(bites + 60)
    return np.asarray(signal.lfilter([1.0], [1.0, -keeps], steps)[60:])


def known(phase: Array, level: Array, white_rad2: float = 1e-8) -> Noise:
    noise = Noise(white_rad2, 4.0)
    return learned(phase, level, len(phase), BITE_S, noise, white_rad2)


@pytest.mark.parametrize("bites", [10, 22, 60])
def test_lasting_noise_is_known_by_what_it_does_to_the_level(bites: int) -> None:
    rng = np.random.default_rng(bites)
    covered, tries = 0, 300
    for _ in range(tries):
        phase = lasting(bites, rng)
        found = estimate(phase, BITE_S, F_HZ, known(phase, lasting(bites, rng)), lone=True)
        covered += abs(found.off_hz / HZ_PER_CENT) <= 2 * found.u_cents
    assert covered / tries > 0.92


def test_lasting_noise_is_not_taken_for_a_hand() -> None:
    rng = np.random.default_rng(5)
    whole = 0
    for _ in range(50):
        phase = lasting(80, rng)
        whole += choose_window(phase, BITE_S, F_HZ, known(phase, lasting(80, rng)), 4) == 80
    assert whole >= 47


def test_a_bite_of_another_sound_counts_as_no_noise() -> None:
    rng = np.random.default_rng(6)
    phase, level = 1e-4 * rng.standard_normal((2, 60))
    level[-3] = 0.5
    assert known(phase, level).most(60) < 4e-8


def test_what_is_common_counts_until_much_was_heard() -> None:
    rng = np.random.default_rng(7)
    phase, level = 1e-7 * rng.standard_normal((2, 22))
    at_first, _ = known(phase[:4], level[:4], 1e-14).walk(4, F_HZ)
    later, _ = known(phase, level, 1e-14).walk(22, F_HZ)
    assert at_first > 10 * later
