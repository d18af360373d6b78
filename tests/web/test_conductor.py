"""The conductor: one procedure, any number of screens, one that leads."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

import pytest

from pitchwright.errors import InputError
from pitchwright.procedures.requests import WatchTurn
from pitchwright.web.conductor import Conductor, Rig
from pitchwright.web.people import People
from pitchwright.web.practice_rig import PracticeRig
from pitchwright.web.scene import Connected, Phase, Scene

LONG_S = 120.0
FAST = 400.0


def over(scene: Scene) -> bool:
    return scene.phase in (Phase.ENDED, Phase.STOPPED)


def turning(scene: Scene) -> bool:
    return scene.turning is not None


Make = Callable[..., Conductor]


class Steering:
    """A person at the sliders who looks at every fourth reading.

    Called by the rig's clock, in the thread that turns: how fast the machine is changes nothing.
    """

    def __init__(self) -> None:
        self.conductor: Conductor | None = None
        self.by = "a"
        self.steers = False
        self.turns = 0
        self._asked: WatchTurn | None = None
        self._gains: dict[str, float] = {}
        self._moved = 0.0
        self._heard = 0
        self._at = 0.0

    def __call__(self, people: People, seconds: float) -> None:
        del seconds
        people.wait(0.0 if self.steers else 0.001)
        if not self.steers or self.conductor is None:
            return
        asked = self.conductor.scene.turning
        if asked is not self._asked:
            self._asked, self._moved = asked, 0.0
            if asked is not None:
                self._at, self._heard = asked.start_cents, self.conductor.feed.since(0)["n"]
                self.turns += 1
        if asked is not None and self.conductor.feed.since(0)["n"] >= self._heard + 4:
            self._look(self.conductor, asked)

    def _look(self, conductor: Conductor, asked: WatchTurn) -> None:
        points = conductor.feed.since(0)["points"]
        self._heard = conductor.feed.since(0)["n"]
        before, self._at = self._at, sum(cents for _, cents in points[-3:]) / 3
        if self._moved and asked.trimmer not in self._gains and abs(self._at - before) > 0.4:
            self._gains[asked.trimmer] = (self._at - before) / self._moved
        self._moved = 0.0
        off = asked.aim_cents - self._at
        if abs(off) <= 0.5 * asked.window_cents:
            return
        gain = self._gains.get(asked.trimmer)
        self._moved = 0.05 if gain is None else max(-2.0, min(2.0, off / gain))
        conductor.turn(self.by, asked.trimmer, self._moved)


@pytest.fixture
def conducted() -> Iterator[Make]:
    made: list[Conductor] = []

    def make(
        *,
        hand: bool = True,
        speed: float = FAST,
        steering: Steering | None = None,
        logbook: str = "none",
    ) -> Conductor:
        rig = partial(PracticeRig, hand=hand, speed=speed, pace=steering)
        conductor = Conductor(rig, logbook=logbook)
        if steering is not None:
            steering.conductor = conductor
        conductor.open()
        conductor.wait_for(lambda scene: scene.connected is not None, LONG_S)
        made.append(conductor)
        return conductor

    yield make
    for conductor in made:
        conductor.close()


def to_the_end(conductor: Conductor, by: str = "a") -> Scene:
    """Wait for the end, and answer every question on the way by its default."""
    while True:
        scene = conductor.wait_for(lambda scene: over(scene) or scene.question is not None, LONG_S)
        asked = scene.question
        if asked is None:
            return scene
        conductor.choose(by, asked.default)
        conductor.wait_for(lambda scene, asked=asked: scene.question is not asked, LONG_S)  # type: ignore[misc]


def test_a_survey_of_all_reaches_its_end(conducted: Make) -> None:
    conductor = conducted()
    names = [one.name for one in conductor.scene.connected.oscillators]  # type: ignore[union-attr]
    conductor.survey("a", names, 24.0, 84.0)
    scene = conductor.wait_for(over, LONG_S)
    assert scene.phase is Phase.ENDED
    assert [one.oscillator for one in scene.surveyed] == names
    assert scene.fault == ""


def test_a_hand_trims_while_nobody_looks_on(conducted: Make) -> None:
    conductor = conducted()
    conductor.join("a", "phone")
    conductor.trim("a", "Heron", 24.0, 84.0)
    conductor.part("a")
    scene = conductor.wait_for(over, LONG_S)
    assert scene.screens == ()
    assert scene.verdict is not None
    assert scene.verdict.standing == "in tune"


def test_a_trim_on_the_sliders_ends_in_tune_and_is_surveyed_as_left(conducted: Make) -> None:
    person = Steering()
    person.steers = True
    conductor = conducted(hand=False, steering=person)
    conductor.trim("a", "Heron", 24.0, 84.0)
    scene = to_the_end(conductor)
    assert person.turns >= 3
    assert scene.fault == ""
    assert scene.verdict is not None
    assert scene.verdict.standing == "in tune"
    found = scene.surveyed
    conductor.survey_left("a")
    left = conductor.wait_for(lambda scene: scene.procedure == "survey" and over(scene), LONG_S)
    assert left.before == found
    assert left.surveyed != found


def test_a_trim_goes_on_from_where_it_was_stopped(conducted: Make) -> None:
    person = Steering()
    conductor = conducted(hand=False, steering=person)
    conductor.trim("a", "Heron", 24.0, 84.0)
    conductor.wait_for(turning, LONG_S)
    conductor.stop("a")
    stopped = conductor.wait_for(lambda scene: scene.stopped != "", LONG_S)
    assert stopped.phase is Phase.STOPPED
    count = len(conductor.events())
    conductor.go_on("a")
    again = conductor.wait_for(turning, LONG_S)
    assert again.found == stopped.found
    assert [event.number for event in conductor.events()] == list(
        range(1, len(conductor.events()) + 1)
    )
    assert len(conductor.events()) > count
    person.steers = True
    assert to_the_end(conductor).verdict is not None


def test_a_trim_goes_on_in_another_process(conducted: Make) -> None:
    """The logbook is all that a second conductor has of the first."""
    first = conducted(hand=False, logbook="")
    first.trim("a", "Wren", 24.0, 72.0)
    first.wait_for(turning, LONG_S)
    first.close()
    found = first.scene.found
    person = Steering()
    second = conducted(hand=False, steering=person, logbook="")
    assert second.scene.phase is Phase.STOPPED
    assert second.scene.stopped == "Wren"
    assert second.scene.found == found
    second.go_on("b")
    person.by = "b"
    person.steers = True
    scene = to_the_end(second, "b")
    assert scene.verdict is not None
    third = conducted(logbook="")
    assert third.scene.stopped == ""


def test_what_is_begun_anew_is_offered_no_longer(conducted: Make) -> None:
    first = conducted(hand=False, logbook="")
    first.trim("a", "Heron", 24.0, 84.0)
    first.wait_for(turning, LONG_S)
    first.stop("a")
    first.wait_for(lambda scene: scene.stopped != "", LONG_S)
    first.trim("a", "Heron", 24.0, 84.0)
    first.wait_for(turning, LONG_S)
    first.stop("a")
    first.wait_for(lambda scene: scene.stopped != "", LONG_S)
    second = conducted(hand=True, logbook="")
    second.go_on("b")
    second.wait_for(over, LONG_S)
    third = conducted(logbook="")
    assert third.scene.stopped == ""


def test_a_warm_up_is_watched_until_it_is_ready(conducted: Make) -> None:
    conductor = conducted(speed=2000.0)
    conductor.warm_up("a", ["Heron"])
    scene = conductor.wait_for(lambda scene: bool(scene.forecasts) or over(scene), LONG_S)
    assert scene.fault == ""
    assert scene.forecasts[0].oscillator == "Heron"
    conductor.stop("a")
    conductor.wait_for(over, LONG_S)


def test_an_ensemble_check_asks_for_each_source(conducted: Make) -> None:
    conductor = conducted(speed=2000.0)
    conductor.check_ensemble("a", ["Heron", "Wren"], ["Loft", "Stairs"], 36.0, 72.0)
    asked = conductor.wait_for(lambda scene: scene.question is not None or over(scene), LONG_S)
    assert asked.phase is Phase.ASKING
    with pytest.raises(InputError, match="not one of the choices"):
        conductor.choose("a", "nothing like it")
    while not over(conductor.scene):
        scene = conductor.wait_for(lambda scene: scene.question is not None or over(scene), LONG_S)
        if scene.question is not None:
            conductor.choose("a", scene.question.default)
            conductor.wait_for(
                lambda later, asked=scene.question: later.question is not asked,  # type: ignore[misc]
                LONG_S,
            )
    assert conductor.scene.fault == ""
    assert conductor.scene.ensemble is not None
    assert conductor.scene.pairs


# ---------------------------------------------------------------------- who leads


def test_the_first_screen_leads_and_another_may_take_over(conducted: Make) -> None:
    conductor = conducted()
    conductor.join("phone", "phone")
    conductor.join("laptop", "computer")
    assert conductor.scene.leader == "phone"
    with pytest.raises(InputError, match="Another screen leads"):
        conductor.survey("laptop", ["Heron"], 24.0, 84.0)
    conductor.lead("laptop")
    conductor.survey("laptop", ["Heron"], 24.0, 84.0)
    with pytest.raises(InputError, match="Another screen leads"):
        conductor.stop("phone")
    conductor.wait_for(over, LONG_S)


def test_a_lead_that_is_gone_falls_to_whoever_acts(conducted: Make) -> None:
    conductor = conducted()
    conductor.join("phone", "phone")
    conductor.join("laptop", "computer")
    conductor.part("phone")
    assert conductor.scene.leader == ""
    conductor.survey("laptop", ["Heron"], 24.0, 84.0)
    assert conductor.scene.leader == "laptop"
    conductor.wait_for(over, LONG_S)


def test_one_thing_at_a_time(conducted: Make) -> None:
    conductor = conducted(hand=False)
    conductor.trim("a", "Heron", 24.0, 84.0)
    with pytest.raises(InputError, match="under way"):
        conductor.survey("a", ["Heron"], 24.0, 84.0)


@pytest.mark.parametrize(
    ("act", "sentence"),
    [
        (lambda c: c.advance("a"), "Nothing is under way"),
        (lambda c: c.stop("a"), "Nothing is under way"),
        (lambda c: c.go_on("a"), "Nothing was stopped"),
        (lambda c: c.survey_left("a"), "Nothing was trimmed"),
        (lambda c: c.survey("a", [], 24.0, 84.0), "No oscillator"),
        (lambda c: c.survey("a", ["Nobody"], 24.0, 84.0), "no oscillator called Nobody"),
        (lambda c: c.survey("a", ["Heron"], 84.0, 24.0), "no notes"),
        (lambda c: c.trim("a", "Nobody", 24.0, 84.0), "no oscillator called Nobody"),
        (lambda c: c.trim("a", "Heron", 24.0, 84.0, tolerance_cents=-1.0), "tolerance"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(
    conducted: Make, act: Callable[[Conductor], None], sentence: str
) -> None:
    conductor = conducted()
    with pytest.raises(InputError, match=sentence):
        act(conductor)
    conductor.survey("a", ["Heron"], 24.0, 84.0)
    assert conductor.wait_for(over, LONG_S).phase is Phase.ENDED


@pytest.mark.parametrize("turns", [float("nan"), float("inf"), 1e9])
def test_a_turn_that_cannot_be_is_refused(conducted: Make, turns: float) -> None:
    conductor = conducted(hand=False)
    conductor.trim("a", "Heron", 24.0, 84.0)
    asked = conductor.wait_for(turning, LONG_S).turning
    assert asked is not None
    with pytest.raises(InputError, match="not turned that far"):
        conductor.turn("a", asked.trimmer, turns)
    with pytest.raises(InputError, match="has no left knee"):
        conductor.turn("a", "left knee", 1.0)


# ---------------------------------------------------------------------- outputs and faults


class Loud(PracticeRig):
    """A rig that says it drives outputs."""

    @property
    def connected(self) -> Connected:
        given = super().connected
        return Connected(
            "live", given.sentence, given.oscillators, given.sources, False, drives_outputs=True
        )


def test_outputs_are_silent_until_the_person_at_the_machine_allows_them() -> None:
    conductor = Conductor(lambda: Loud(hand=True, speed=FAST), logbook="none")
    conductor.open()
    conductor.wait_for(lambda scene: scene.connected is not None, LONG_S)
    with pytest.raises(InputError, match="not allowed yet"):
        conductor.survey("a", ["Heron"], 24.0, 84.0)
    with pytest.raises(InputError, match="Only the person at the machine"):
        conductor.allow_output(at_the_machine=False)
    assert not conductor.scene.output_allowed
    conductor.allow_output(at_the_machine=True)
    conductor.survey("a", ["Heron"], 24.0, 84.0)
    assert conductor.wait_for(over, LONG_S).phase is Phase.ENDED
    conductor.close()


def opened(connect: Callable[[], Rig]) -> Scene:
    conductor = Conductor(connect, logbook="none")
    conductor.open()
    return conductor.wait_for(lambda scene: scene.phase is not Phase.OPENING, LONG_S)


def test_a_bench_that_cannot_be_set_up_is_said_in_a_sentence() -> None:
    def refuse() -> Rig:
        raise InputError("The device is gone", "input 3", "Plug it in")

    assert opened(refuse).fault == "input 3: The device is gone. Plug it in."

    def break_down() -> Rig:
        raise ZeroDivisionError("oh")

    assert opened(break_down).fault.startswith("Internal fault, not yours: ZeroDivisionError")


def test_a_bench_that_breaks_down_on_the_way_ends_in_a_sentence_and_leaves_the_next_free() -> None:
    class Broken(PracticeRig):
        broken = True

        def bench(self, *given: Any) -> Any:
            bench: Any = super().bench(*given)
            if self.broken:
                Broken.broken = False

                def listen(_: Any) -> Any:
                    raise InputError("The sound is gone", do="Plug it in")

                bench.listen = listen
            return bench

    conductor = Conductor(lambda: Broken(hand=True, speed=FAST), logbook="none")
    conductor.open()
    conductor.wait_for(lambda scene: scene.connected is not None, LONG_S)
    conductor.survey("a", ["Heron"], 24.0, 84.0)
    scene = conductor.wait_for(lambda scene: scene.fault != "", LONG_S)
    assert scene.phase is Phase.STOPPED
    assert scene.fault == "The sound is gone. Plug it in."
    conductor.go_on("a")
    assert conductor.wait_for(lambda s: s.phase is Phase.ENDED, LONG_S).surveyed
    conductor.close()
