"""Forecast an invented warm-up a quarter of an hour after power-on, and half an hour later.

Run as ``python examples/watch_a_warm_up.py``.
"""

import numpy as np

from pitchwright.stability import forecast


def main() -> None:
    """Print what is known of Heron's warm-up, early and late."""
    chance = np.random.default_rng(1)
    t_s = np.arange(0.0, 45 * 60.0, 10.0)
    cents = 18.0 * np.exp(-t_s / 240.0) + 14.0 * np.exp(-t_s / 1100.0)
    cents += 0.05 * chance.standard_normal(t_s.size)
    for minutes in (2, 15, 45):
        heard = t_s <= minutes * 60.0
        found = forecast(t_s[heard], cents[heard], tolerance_cents=1.0)
        print(f"After {minutes} minutes: {found.sentence} {found.why}")


if __name__ == "__main__":
    main()
