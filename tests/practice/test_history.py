from __future__ import annotations

import numpy as np
import pytest

from pitchwright.errors import InputError
from pitchwright.practice import theatre_rig
from pitchwright.practice.history import watched


def test_the_rig_warms_up_from_power_on_and_not_when_warm() -> None:
    cold = watched(theatre_rig(on_for_s=0.0), 60, 60.0, 20.0)
    warm = watched(theatre_rig(on_for_s=1e6), 60, 60.0, 20.0)
    moved = {trace.name: np.ptp(trace.cents) for trace in cold.traces}
    settled = {trace.name: np.ptp(trace.cents) for trace in warm.traces}
    assert moved["Heron"] > settled["Heron"] + 1.0
    assert cold.temperature_c is not None
    assert 0.5 < np.ptp(cold.temperature_c) < 1.2
    assert cold.t_s.size == 180


def test_same_seed_same_evening() -> None:
    rig = theatre_rig(on_for_s=0.0).only("Wren")
    one, other = watched(rig, 60, 5.0, 10.0, seed=3), watched(rig, 60, 5.0, 10.0, seed=3)
    assert one.traces[0].cents.tolist() == other.traces[0].cents.tolist()
    assert watched(rig, 60, 5.0, 10.0, seed=4).traces[0].cents.tolist() != (
        one.traces[0].cents.tolist()
    )


@pytest.mark.parametrize(("minutes", "every_s"), [(0.0, 10.0), (1.0, 0.0), (1e6, 10.0), (1.0, 50)])
def test_what_cannot_be_watched(minutes: float, every_s: float) -> None:
    with pytest.raises(InputError, match="cannot be"):
        watched(theatre_rig(), 60, minutes, every_s)
