"""The live bench on the page: opened for each procedure, stopped in the middle, always closed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from pitchwright.bench.live.bench_file import BenchFile
from pitchwright.bench.live.live_bench import LiveBench
from pitchwright.errors import InputError
from pitchwright.procedures.requests import Heard, NotePlayed, ReadingsTaken
from pitchwright.units import note_to_hz
from pitchwright.web import live_rig
from pitchwright.web.conductor import Conductor
from pitchwright.web.live_rig import LiveRig
from pitchwright.web.scene import Phase

LONG_S = 60.0


def described(**more: Any) -> BenchFile:
    """A bench file as a person might write it; all invented."""
    return BenchFile.model_validate(
        {
            "source": "Loft",
            "oscillator": {
                "Heron": {
                    "channel": 1,
                    "trimmer": [{"name": "the small one", "kind": "scale"}],
                },
                "Wren": {"channel": 2},
            },
        }
        | more
    )


class FakeBench(LiveBench):
    """A live bench without devices; its second note never comes."""

    def __init__(self, **given: Any) -> None:
        self.given = given
        self.expected: list[tuple[float, float]] = []
        self.notes = 0
        self.closed = self.waits = False

    def now_s(self) -> float:
        return float(self.notes)

    def expect(self, notes: Any) -> None:
        self.expected = list(notes)

    def play(self, request: Any) -> NotePlayed:
        self.notes += 1
        if self.notes == 2:
            self.given["say"]("Play the note, and hold it.")
            self.waits = True
            self.given["stop"].wait(LONG_S)
        return NotePlayed(self.now_s())

    def listen(self, request: Any) -> ReadingsTaken:
        f_hz = note_to_hz(request.note)
        return ReadingsTaken(
            tuple(Heard(name, self.now_s(), f_hz, 0.05) for name in request.oscillators)
        )

    def advance(self) -> None:
        pass

    def close(self) -> None:
        self.closed = True


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[FakeBench]:
    benches: list[FakeBench] = []

    def connect(_: BenchFile, **given: Any) -> FakeBench:
        benches.append(FakeBench(**given))
        return benches[-1]

    monkeypatch.setattr(live_rig, "connect", connect)
    return benches


@pytest.fixture
def conductor(opened: list[FakeBench]) -> Iterator[Conductor]:
    made = Conductor(lambda: LiveRig(described()), logbook="none")
    made.open()
    made.wait_for(lambda scene: scene.connected is not None, LONG_S)
    yield made
    made.close()


def test_what_is_connected_is_what_the_bench_file_says() -> None:
    connected = LiveRig(described()).connected
    assert connected.kind == "live"
    assert [one.name for one in connected.oscillators] == ["Heron", "Wren"]
    assert connected.oscillators[0].trimmers == ("the small one",)
    assert not connected.turnable
    assert not connected.drives_outputs


def test_a_bench_that_plays_notes_drives_outputs() -> None:
    rig = LiveRig(described(notes="midi", midi={"port": "a port"}))
    assert rig.connected.drives_outputs


def test_an_invented_instrument_goes_to_another_logbook() -> None:
    assert LiveRig(described(invented=True)).invented
    assert not LiveRig(described()).invented


def test_a_note_that_is_waited_for_can_be_stopped_and_the_bench_is_closed(
    conductor: Conductor, opened: list[FakeBench]
) -> None:
    conductor.survey("a", ["Heron", "Wren"], 36.0, 72.0)
    scene = conductor.wait_for(lambda scene: bool(scene.said), LONG_S)
    assert scene.said[-1].sentence == "Play the note, and hold it."
    (bench,) = opened
    assert bench.given["only"] == ("Heron", "Wren")
    assert len(bench.expected) >= 7
    conductor.stop("a")
    stopped = conductor.wait_for(lambda scene: scene.phase is Phase.STOPPED, LONG_S)
    conductor.wait_for(lambda scene: scene.stopped != "", LONG_S)
    assert stopped.fault == ""
    assert bench.closed


def test_what_was_stopped_goes_on_with_the_clock_where_it_was(
    conductor: Conductor, opened: list[FakeBench]
) -> None:
    conductor.survey("a", ["Heron", "Wren"], 36.0, 72.0)
    conductor.wait_for(lambda scene: bool(scene.said), LONG_S)
    conductor.stop("a")
    conductor.wait_for(lambda scene: scene.stopped != "", LONG_S)
    conductor.go_on("a")
    conductor.wait_for(lambda _: len(opened) == 2, LONG_S)
    assert opened[1].given["start_s"] >= 1.0
    conductor.stop("a")


def test_an_oscillator_without_trimmers_is_not_trimmed(conductor: Conductor) -> None:
    with pytest.raises(InputError, match="no trimmer"):
        conductor.trim("a", "Wren", 36.0, 72.0)


def test_a_device_that_is_not_there_is_said_in_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    def connect(*_: Any, **__: Any) -> LiveBench:
        raise InputError("There is no such device", "sound input", "Plug it in")

    monkeypatch.setattr(live_rig, "connect", connect)
    conductor = Conductor(lambda: LiveRig(described()), logbook="none")
    conductor.open()
    conductor.wait_for(lambda scene: scene.connected is not None, LONG_S)
    conductor.survey("a", ["Heron"], 36.0, 72.0)
    scene = conductor.wait_for(lambda scene: scene.fault != "", LONG_S)
    assert scene.fault == "sound input: There is no such device. Plug it in."
    conductor.close()
