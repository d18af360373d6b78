"""The scene: what follows from the events, taken in one by one."""

from __future__ import annotations

import numpy as np
import pytest

from pitchwright.bench.practice import PracticeBench, trimmers_of
from pitchwright.bench.runner import run
from pitchwright.practice.hands import Hand
from pitchwright.practice.scenario import theatre_rig
from pitchwright.procedures import Event, TrimSettings, guided_trim
from pitchwright.procedures.events import Interrupted
from pitchwright.procedures.requests import WatchTurn
from pitchwright.web.scene import Phase, Scene, after


@pytest.fixture(scope="module")
def events() -> list[Event]:
    rig = theatre_rig()
    (voice,) = rig.only("Heron").voices
    rng = np.random.default_rng(1)
    bench = PracticeBench(voice.oscillator, rig.source("Loft"), Hand(rng), rng)
    settings = TrimSettings("Heron", trimmers_of(voice.oscillator))
    told: list[Event] = []
    run(guided_trim(settings), bench, (told.append,), name="guided trim", settings=settings)
    return told


def test_a_guided_trim_goes_through_its_phases(events: list[Event]) -> None:
    scene = Scene(phase=Phase.IDLE)
    phases = []
    for event in events:
        scene = after(scene, event)
        phases.append(scene.phase)
        turning = scene.turning is not None
        assert turning == (scene.phase is Phase.TURNING)
    assert {Phase.PLAYING, Phase.LISTENING, Phase.TURNING} <= set(phases)
    assert phases[-1] is Phase.ENDED
    assert scene.procedure == "guided trim"
    assert scene.oscillators == ("Heron",)
    assert scene.verdict is not None
    assert scene.found is not None
    assert scene.now is not None
    assert max(abs(c) for c in scene.found.cents) > max(abs(c) for c in scene.now.cents)
    watched = [event.what.visit for event in events if isinstance(event.what, WatchTurn)]
    assert scene.visits == max(watched)


def test_live_readings_change_nothing(events: list[Event]) -> None:
    scene = Scene()
    live = next(event for event in events if event.kind == "turning")
    assert after(scene, live) is scene


def test_every_other_change_has_a_version_of_its_own(events: list[Event]) -> None:
    scene, versions = Scene(), [0]
    for event in events:
        changed = after(scene, event)
        if changed != scene:
            versions.append(changed.version)
        scene = changed
    assert versions == sorted(set(versions))


def test_another_procedure_begins_with_nothing_of_the_last(events: list[Event]) -> None:
    scene = Scene(leader="a", written_in="x")
    for event in events:
        scene = after(scene, event)
    again = after(scene, events[0])
    assert (again.found, again.verdict, again.readings, again.said) == (None, None, (), ())
    assert (again.leader, again.written_in) == ("a", "x")


def test_a_stop_in_the_middle_of_a_turn_leaves_no_turn_under_way(events: list[Event]) -> None:
    scene = Scene()
    for event in events:
        scene = after(scene, event)
        if scene.turning is not None:
            break
    stopped = after(scene, Event(99, 0.0, "", Interrupted("Stopped.")))
    assert stopped.phase is Phase.STOPPED
    assert stopped.turning is None
    assert stopped.found == scene.found
