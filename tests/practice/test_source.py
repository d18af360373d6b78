"""A source: gain, offset and steps."""

from __future__ import annotations

import numpy as np
import pytest

from pitchwright.errors import InternalError
from pitchwright.practice import CvSource, step_errors_v


def test_perfect_source_sends_a_volt_per_octave() -> None:
    assert [CvSource("Loft").cv_v(note) for note in (24, 60, 96)] == [0.0, 3.0, 6.0]


def test_gain_offset_and_steps_add() -> None:
    steps = tuple(0.001 * note for note in range(128))
    source = CvSource("Stairs", gain_error=0.01, offset_v=-0.002, step_error_v=steps)
    assert source.cv_v(60.3) == pytest.approx(3.025 * 1.01 - 0.002 + 0.060)


def test_steps_have_the_size_asked_for_and_the_seed_decides() -> None:
    steps = np.array([step_errors_v(1.5, np.random.default_rng(seed)) for seed in range(40)])
    assert steps.shape == (40, 128)
    assert np.std(steps) * 1200.0 == pytest.approx(1.5, rel=0.03)
    assert step_errors_v(1.5, np.random.default_rng(7)) == tuple(steps[7])


def test_steps_of_some_notes_only_are_refused() -> None:
    with pytest.raises(InternalError):
        CvSource("Stairs", step_error_v=(0.001, 0.002))
