"""A warm-up watched from the page."""

from __future__ import annotations

from pitchwright.web.conductor import Conductor
from pitchwright.web.people import People
from pitchwright.web.practice_rig import PracticeRig
from pitchwright.web.scene import Phase

LONG_S = 60.0


class Clock:
    """Runs freely for some waits from one reading to the next, and stands still in those after."""

    def __init__(self, free: int) -> None:
        self._free = free

    def __call__(self, people: People, seconds: float) -> None:
        if seconds > 5.0:
            self._free -= 1
        people.wait(LONG_S if self._free < 0 else 0.0)


def test_a_watch_that_is_ended_keeps_what_it_measured_and_is_not_interrupted() -> None:
    conductor = Conductor(lambda: PracticeRig(pace=Clock(7)), logbook="none")
    conductor.open()
    conductor.wait_for(lambda scene: scene.connected is not None, LONG_S)
    conductor.warm_up("a", ["Heron", "Wren"])
    conductor.wait_for(lambda scene: len(scene.readings) >= 16, LONG_S)
    conductor.end_watch("a")
    scene = conductor.wait_for(lambda scene: not scene.phase.busy, LONG_S)
    conductor.close()
    assert scene.phase is Phase.ENDED
    assert (scene.fault, scene.stopped) == ("", "")
    assert [event.kind for event in conductor.events()][-1] == "closed"
    assert len(scene.readings) == 16
    assert {one.oscillator for one in scene.forecasts} == {"Heron", "Wren"}
