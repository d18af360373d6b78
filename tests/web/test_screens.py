"""Every screen laid out and shown what can happen, without a browser (NiceGUI's `user` fixture)."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from nicegui import ui
from nicegui.element import Element
from nicegui.events import GenericEventArguments, handle_event
from nicegui.testing import User
from nicegui.testing.user_simulation import user_simulation

from pitchwright.bench.live.sound_trouble import SoundTrouble
from pitchwright.bench.practice import RIG_CONDITIONS
from pitchwright.bench.runner import announce
from pitchwright.detune import constant
from pitchwright.procedures.circumstances import Conditions
from pitchwright.procedures.outcomes import CurveKnown
from pitchwright.procedures.plain import from_plain
from pitchwright.procedures.requests import Ask, Choice, Heard, WatchTurn
from pitchwright.procedures.settings import TrimSettings
from pitchwright.procedures.survey import SurveySettings
from pitchwright.procedures.worked_out import DetunePlanned
from pitchwright.tracking import TargetCurve
from pitchwright.trim.verdict import Standing, Verdict
from pitchwright.upkeep import Recorder
from pitchwright.web.addresses import ADDRESSES
from pitchwright.web.conductor import Conductor
from pitchwright.web.home import Laid, lay_out
from pitchwright.web.practice_rig import PracticeRig
from pitchwright.web.scene import Hidden, Phase, Read, Said, Scene, Screen

TURN = WatchTurn(
    "Heron", "scale trimmer", 1, 1, 81.0, 4.75, 880.0, -10.0, -21.6, 0.4, -25.0, -7.0,
    None, None, True, "Turn it.",
)  # fmt: skip
CURVE = CurveKnown("Heron", (24.0, 48.0, 84.0), (1.0, 2.0, 30.0), (0.1, 0.1, 0.1), 0)
VERDICT = Verdict(
    Standing.IN_TUNE, 24.0, 84.0, 1.0, 0.5, 0.1, 84.0, 0.7, 0.2, 0.1, 0.0,
    would_help=("Nothing.",),
)  # fmt: skip


class Stage:
    """Screens on a page that no browser shows."""

    def __init__(self, user: User, conductor: Conductor) -> None:
        self.user, self.conductor = user, conductor
        self.laid: Laid | None = None

    async def open(self, where: str, screen: str = "me", *, local: bool = True) -> Laid:
        def page() -> None:
            self.laid = lay_out(self.conductor, screen, where, local=local)

        ui.page(f"/{where}-{screen}-{local}")(page)
        await self.user.open(f"/{where}-{screen}-{local}")
        assert self.laid is not None
        return self.laid

    def words(self, part: str) -> str:
        """What an element says, if it is to be seen."""
        for element in self.user.current_layout.descendants():
            if element.props.get("data-part") == part and element.visible:
                return str(getattr(element, "text", "") or getattr(element, "content", ""))
        return ""

    def part(self, part: str) -> Element:
        """The element of a name."""
        (found,) = [
            element
            for element in self.user.current_layout.descendants()
            if element.props.get("data-part") == part
        ]
        return found

    def give(self, part: str, event: str, what: object = None) -> None:
        """Have a browser report that something was entered or pressed there."""
        element = self.part(part)
        for listener in element._event_listeners.values():
            if listener.type == event:
                assert element.client is not None
                given = GenericEventArguments(sender=element, client=element.client, args=what)
                handle_event(listener.handler, given)


@pytest.fixture
def conductor(tmp_path: Path) -> Iterator[Conductor]:
    made = Conductor(lambda: PracticeRig(speed=1000.0), logbook=f"{tmp_path}/logbook.sqlite")
    made.join("me", "phone")
    made.open()
    made.wait_for(lambda scene: scene.connected is not None, 60.0)
    yield made
    made.close()


@pytest.fixture
async def stage(conductor: Conductor) -> AsyncIterator[Stage]:
    async with user_simulation() as user:
        yield Stage(user, conductor)


@pytest.mark.parametrize("where", ADDRESSES)
async def test_every_screen_shows_whatever_happens(stage: Stage, where: str) -> None:
    laid = await stage.open(where)
    scene = stage.conductor.scene
    heard = Read(60.0, Heard("Heron", 1.0, 262.0, 0.1))
    trim = replace(scene, procedure="guided trim", oscillators=("Heron",), readings=(heard,))
    question = Ask("which", "Which one?", (Choice("a", "This"), Choice("b", "That")), "a")
    for shown in (
        scene,
        replace(scene, connected=None, phase=Phase.OPENING),
        replace(trim, phase=Phase.LISTENING, note=60.0, doing="Play C4."),
        replace(trim, phase=Phase.TURNING, turning=TURN, note=81.0, visits=1, now=CURVE),
        replace(trim, phase=Phase.LISTENING, note=24.0, visits=1, said=(Said(9, "x", "Oh."),)),
        replace(trim, phase=Phase.ASKING, question=question),
        replace(trim, phase=Phase.ENDED, verdict=VERDICT, found=CURVE, now=CURVE),
        replace(trim, phase=Phase.STOPPED, stopped="Heron"),
        replace(scene, fault="It broke."),
        replace(scene, screens=(*scene.screens, Screen("other", "tablet")), leader="other"),
        replace(trim, procedure="warm-up watch", phase=Phase.LISTENING),
        replace(trim, procedure="ensemble check", phase=Phase.LISTENING, note=60.0),
    ):
        laid.show(shown)
    laid.show(Scene())


@pytest.mark.parametrize("trouble", SoundTrouble)
async def test_what_is_wrong_with_the_sound_is_said_while_it_is(
    stage: Stage, trouble: SoundTrouble
) -> None:
    laid = await stage.open("trim")
    scene = replace(
        stage.conductor.scene,
        procedure="guided trim",
        oscillators=("Heron",),
        phase=Phase.TURNING,
        turning=TURN,
        note=81.0,
    )
    laid.show(replace(scene, sound=trouble.value))
    assert stage.words("sound").endswith(".")
    laid.show(scene)
    assert stage.words("sound") == ""


async def test_the_moment_of_turning_in_words(stage: Stage) -> None:
    laid = await stage.open("trim")
    scene = replace(
        stage.conductor.scene,
        procedure="guided trim",
        oscillators=("Heron",),
        phase=Phase.TURNING,
        turning=TURN,
        note=81.0,
        visits=1,
    )
    laid.show(scene)
    assert "scale trimmer" in stage.words("doing")
    assert stage.words("where") == "Heron · visit 1 · A5 sounds"
    feed = {"n": 3, "turn": 1, "rest": 0.0, "points": [[0.05 * i, -18.2] for i in range(9)]}
    message = laid.live(feed)
    assert message is not None
    assert message["words"]["figure"] == "3.4"
    assert message["words"]["sense"] == "too sharp"


async def test_hidden_numbers_stay_with_the_teacher(stage: Stage) -> None:
    stage.conductor.join("pupil", "tablet")
    stage.conductor.hide("me", Hidden.OTHERS)
    feed = {"n": 3, "turn": 1, "rest": 0.0, "points": [[0.05 * i, -18.2] for i in range(9)]}
    for screen, told in (("me", True), ("pupil", False)):
        laid = await stage.open("practice", screen)
        scene = replace(
            stage.conductor.scene,
            procedure="guided trim",
            oscillators=("Heron",),
            phase=Phase.TURNING,
            turning=TURN,
            note=81.0,
            visits=1,
        )
        laid.show(scene)
        message = laid.live(feed)
        assert message is not None
        assert ("words" in message) is told
        assert ("−21.6" in stage.words("why")) is False


async def test_a_follower_is_told_who_leads_and_may_take_the_lead(stage: Stage) -> None:
    stage.conductor.join("other", "tablet")
    laid = await stage.open("trim", "other")
    laid.show(stage.conductor.scene)
    assert stage.words("lead") == "The phone leads."
    stage.user.find("Take the lead").click()
    assert stage.conductor.scene.leader == "other"
    laid.show(stage.conductor.scene)
    assert stage.words("lead") == ""


async def test_a_refusal_is_said_in_a_sentence(stage: Stage) -> None:
    stage.conductor.join("other", "tablet")
    laid = await stage.open("trim", "other")
    laid.show(stage.conductor.scene)
    stage.user.find("Begin").click()
    assert "Another screen leads" in stage.words("fault")


async def test_only_the_machine_itself_offers_to_allow_its_outputs(stage: Stage) -> None:
    scene = stage.conductor.scene
    assert scene.connected is not None
    driving = replace(scene, connected=replace(scene.connected, drives_outputs=True))
    for local in (True, False):
        laid = await stage.open("start", local=local)
        laid.show(driving)
        assert bool(stage.words("allow-output")) is local


async def test_what_was_worked_out_at_the_desk_is_on_the_screen_of_the_instrument(
    stage: Stage,
) -> None:
    with Recorder(stage.conductor.scene.written_in) as written:
        plan = DetunePlanned(constant(5.0, 36, 72, ("Wren", "Heron")))
        announce(plan, (written.follow(("Wren", "Heron")),), name="detune", settings={})
    laid = await stage.open("instrument")
    laid.show(stage.conductor.scene)
    await stage.user.should_see("Routes, planned detunes, corrections")
    await stage.user.should_see("Wren and Heron, C2 to C5", retries=50)


async def test_a_trim_is_begun_with_all_that_was_said(stage: Stage) -> None:
    laid = await stage.open("trim")
    laid.show(stage.conductor.scene)
    for part, written in (
        ("a4", "442"),
        ("temperature", "21,5"),
        ("minutes on", " 95 "),
        ("route", "output 2"),
        ("wider-low", "12"),
        ("wider-high", "96"),
    ):
        stage.give(part, "change", written)
    stage.give("leave-scale trimmer", "change", True)
    stage.give("start", "click")
    scene = stage.conductor.wait_for(lambda scene: bool(scene.settings), 60.0)
    stage.conductor.stop("me")
    settings = from_plain(dict(scene.settings), TrimSettings)
    assert settings.target == TargetCurve.flat(442.0)
    assert settings.wider == (12.0, 96.0)
    assert [one.name for one in settings.trimmers if not one.may_touch] == ["scale trimmer"]
    assert settings.conditions == Conditions(21.5, 95.0, route="output 2").or_else(RIG_CONDITIONS)


async def test_a_survey_is_begun_with_all_that_was_said(stage: Stage) -> None:
    laid = await stage.open("survey")
    laid.show(stage.conductor.scene)
    stage.give("a4", "change", "442")
    stage.give("source", "change", "Stairs")
    stage.give("start", "click")
    scene = stage.conductor.wait_for(lambda scene: bool(scene.settings), 60.0)
    stage.conductor.stop("me")
    under = from_plain(dict(scene.settings), SurveySettings).circumstances
    assert under.target == TargetCurve.flat(442.0)
    assert under.conditions == Conditions(source="Stairs").or_else(RIG_CONDITIONS)


@pytest.mark.parametrize(
    ("part", "written", "said"),
    [
        ("temperature", "warm", "not a number (Room, °C)"),
        ("temperature", "210", "No instrument is played at 210"),
        ("minutes on", "-5", "-5 minutes"),
        ("a4", "-1", "A4 cannot be -1 Hz"),
    ],
)
async def test_what_cannot_be_is_refused_in_a_sentence(
    stage: Stage, part: str, written: str, said: str
) -> None:
    laid = await stage.open("trim")
    laid.show(stage.conductor.scene)
    stage.give(part, "change", written)
    stage.give("start", "click")
    assert said in stage.words("fault")
    assert stage.conductor.scene.phase is Phase.IDLE
