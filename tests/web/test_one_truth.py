"""What the page says of a trim is what the terminal would say of the same."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest

from pitchwright.bench.practice import RIG_CONDITIONS
from pitchwright.certificate.certificate import certificate_record
from pitchwright.errors import InputError
from pitchwright.procedures.circumstances import Conditions
from pitchwright.procedures.events import Event, Started
from pitchwright.procedures.outcomes import SurveyClosed, VerdictGiven
from pitchwright.procedures.plain import from_plain
from pitchwright.procedures.settings import TrimSettings
from pitchwright.tracking import TargetCurve
from pitchwright.upkeep import Recorder
from pitchwright.upkeep.certifying import certificate_of
from pitchwright.web.conductor import Conductor
from pitchwright.web.practice_rig import PracticeRig
from pitchwright.web.scene import Phase, Scene
from pitchwright.web.screens.survey import sheet_of
from pitchwright.web.targets import FLAT, Kind, Target

LONG_S = 120.0
UNDER = Conditions(21.5, 95.0, route="output 2")


def over(scene: Scene) -> bool:
    return scene.phase in (Phase.ENDED, Phase.STOPPED)


@pytest.fixture
def page(tmp_path: Path) -> Iterator[Conductor]:
    rig = PracticeRig(hand=True, pace=lambda people, _: people.wait(0.0))
    conductor = Conductor(lambda: rig, logbook=f"{tmp_path}/page.sqlite")
    conductor.open()
    conductor.wait_for(lambda scene: scene.connected is not None, LONG_S)
    yield conductor
    conductor.close()


def trimmed(page: Conductor, name: str, target: Target = FLAT) -> tuple[list[Event], list[Event]]:
    """Trim and survey as left on the page; the events of both."""
    page.trim("a", name, 36.0, 72.0, target=target, conditions=UNDER)
    assert page.wait_for(over, LONG_S).fault == ""
    trim = page.events()
    page.survey_left("a")
    page.wait_for(lambda scene: scene.procedure == "survey" and over(scene), LONG_S)
    return trim, page.events()


def closed_in(events: Sequence[Event]) -> SurveyClosed:
    (closed,) = [event.what for event in events if isinstance(event.what, SurveyClosed)]
    return closed


def certificate(recorder: Recorder, name: str) -> dict[str, Any]:
    """What a certificate says, but for the names of entries, which no two logbooks share."""
    assert recorder.logbook is not None
    record = certificate_record(certificate_of(recorder.logbook, name))
    record.pop("number")
    for survey in ("as_found", "as_left"):
        record[survey].pop("entry")
    return record


def test_page_and_terminal_give_the_same_certificate_for_the_same_events(
    page: Conductor, tmp_path: Path
) -> None:
    trim, left = trimmed(page, "Heron")
    begun = trim[0].what
    assert isinstance(begun, Started)
    settings = from_plain(begun.settings, TrimSettings)
    with Recorder(f"{tmp_path}/terminal.sqlite", practice=True) as written:
        written.instrument("Heron", trimmers=settings.trimmers)
        record = written.follow(["Heron"])
        as_left = written.follow(["Heron"], of_run=record.run)
        for subscriber, events in ((record, trim), (as_left, left)):
            for event in events:
                subscriber(event)
        of_terminal = certificate(written, "Heron")
    page.close()
    with Recorder(f"{tmp_path}/page.sqlite", practice=True) as written:
        of_page = certificate(written, "Heron")
    assert json.dumps(of_page) == json.dumps(of_terminal)
    assert of_page["trimmers"] == [trimmer.name for trimmer in settings.trimmers]
    for survey in (of_page["as_found"], of_page["as_left"]):
        assert (survey["temperature_c"], survey["minutes_on"]) == (21.5, 95.0)
        assert (survey["source"], survey["route"]) == ("Loft", "output 2")
        assert survey["reference"] == RIG_CONDITIONS.reference


def test_the_sheet_of_a_trim_that_followed_another_is_against_that_one(page: Conductor) -> None:
    """Wren in tune with Heron is not called sharp, nor is any trimmer named."""
    page.survey("a", ["Heron"], 36.0, 72.0)
    page.wait_for(over, LONG_S)
    trim, left = trimmed(page, "Wren", Target(Kind.FOLLOW, "Heron"))
    (given,) = [event.what for event in trim if isinstance(event.what, VerdictGiven)]
    assert given.verdict.standing == "in tune"
    shown = sheet_of(closed_in(left), closed_in(trim))
    assert shown is not None
    sentences = " ".join(shown[1])
    assert "within ±1 cent" in sentences
    assert "Measured against the curve of Heron." in sentences
    assert "trimmer so that" not in sentences


@pytest.mark.parametrize("kind", [Kind.OWN, Kind.BEATS])
def test_no_target_is_lost_on_the_way_to_the_sheet(page: Conductor, kind: Kind) -> None:
    page.survey("a", ["Heron"], 36.0, 72.0)
    page.wait_for(over, LONG_S)
    target = Target(kind) if kind is Kind.OWN else Target(kind, "Heron", 0.5)
    trim, left = trimmed(page, "Wren", target)
    for events in (trim, left):
        under = closed_in(events).circumstances
        assert under is not None
        assert under.target is not None
        assert under.target != TargetCurve.flat()
    shown = sheet_of(closed_in(left))
    assert shown is not None
    assert "within ±1 cent" in " ".join(shown[1])


def test_the_page_takes_what_the_terminal_takes(page: Conductor) -> None:
    with pytest.raises(InputError, match="no trimmer called"):
        page.trim("a", "Heron", 36.0, 72.0, leave=["volume"])
    page.trim("a", "Heron", 36.0, 72.0, a4_hz=442.0, wider=(24.0, 84.0), leave=["scale trimmer"])
    page.wait_for(over, LONG_S)
    begun = page.events()[0].what
    assert isinstance(begun, Started)
    settings = from_plain(begun.settings, TrimSettings)
    assert settings.target == TargetCurve.flat(442.0)
    assert settings.wider == (24.0, 84.0)
    assert [one.may_touch for one in settings.trimmers if one.name == "scale trimmer"] == [False]
