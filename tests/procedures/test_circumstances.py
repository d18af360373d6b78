"""What readings are measured against, by which clock and under what, from the settings on."""

from __future__ import annotations

from dataclasses import replace
from itertools import takewhile
from typing import Any

import numpy as np
import pytest

from pitchwright.bench.practice import PracticeBench, trimmers_of
from pitchwright.bench.runner import run
from pitchwright.errors import InputError
from pitchwright.practice.hands import Hand
from pitchwright.practice.scenario import theatre_rig
from pitchwright.procedures.circumstances import Circumstances, Conditions, SurveyState
from pitchwright.procedures.events import Event, replay
from pitchwright.procedures.outcomes import SurveyClosed
from pitchwright.procedures.plain import from_plain, to_plain
from pitchwright.procedures.settings import TrimSettings
from pitchwright.procedures.survey import SurveySettings, survey
from pitchwright.procedures.surveyed import curve_followed, surveyed
from pitchwright.tracking import Point, TargetCurve
from pitchwright.units import cv_of_note, note_to_hz

NOTES = (36.0, 48.0, 60.0, 72.0)


def points(*off_cents: float) -> tuple[Point, ...]:
    return tuple(
        Point(note, cv_of_note(note), note_to_hz(note) * 2 ** (off / 1200), 0.02, 0.0)
        for note, off in zip(NOTES, off_cents, strict=True)
    )


READ = {"Heron": points(5.0, 5.0, 5.0, 5.0), "Wren": points(6.0, 7.0, 8.0, 9.0)}


def cents(name: str, under: Circumstances) -> list[float]:
    closed = SurveyClosed(name, READ[name], circumstances=under.closing(name, READ))
    return [entry.cents for entry in surveyed(closed).curve.entries]


def test_a_survey_is_measured_against_what_its_circumstances_say() -> None:
    assert cents("Wren", Circumstances()) == pytest.approx([6, 7, 8, 9], abs=1e-6)
    at_442 = Circumstances(target=TargetCurve.flat(442.0))
    up = 1200 * np.log2(442 / 440)
    assert cents("Wren", at_442) == pytest.approx(np.array([6, 7, 8, 9]) - up, abs=1e-6)
    assert cents("Wren", Circumstances(own_middle=True)) == pytest.approx([-2, -1, 0, 1], abs=1e-6)
    assert cents("Wren", Circumstances(follow="Heron")) == pytest.approx([1, 2, 3, 4], abs=1e-6)
    # Whom the others follow is measured against equal temperament itself.
    assert cents("Heron", Circumstances(follow="Heron")) == pytest.approx([5] * 4, abs=1e-6)


def test_a_shape_through_the_own_middle_is_what_a_trim_to_it_aims_at() -> None:
    """As `TrimSettings.own_middle` says: the target gives the shape only."""
    shape = TargetCurve.table({36.0: 10.0, 48.0: 11.0, 60.0: 12.0, 72.0: 14.0}, "the table")
    under = Circumstances(target=shape, own_middle=True)
    assert cents("Wren", under) == pytest.approx([0.0, 0.0, 0.0, -1.0], abs=1e-6)
    target = under.closing("Wren", READ).target
    assert target is not None
    assert not target.absolute
    assert target.words == "the table, through its own middle C"


def test_two_targets_and_one_that_is_not_there_are_refused() -> None:
    with pytest.raises(InputError, match="not to both"):
        Circumstances(own_middle=True, follow="Heron")
    with pytest.raises(InputError, match="Gull is not surveyed"):
        SurveySettings(("Heron",), NOTES, circumstances=Circumstances(follow="Gull"))


def test_what_a_person_says_counts_more_than_what_is_usual() -> None:
    said = Conditions(21.5, None, "", "output 2")
    usual = Conditions(None, 95.0, "Loft", "output 1", "a counter")
    assert said.or_else(usual) == Conditions(21.5, 95.0, "Loft", "output 2", "a counter")
    assert Conditions(0.0).or_else(Conditions(20.0)).temperature_c == 0.0


def test_a_trim_says_as_found_and_as_left_itself() -> None:
    (voice,) = theatre_rig().only("Heron").voices
    settings = TrimSettings(
        "Heron",
        trimmers_of(voice.oscillator),
        36.0,
        72.0,
        0.5,
        target=TargetCurve.flat(442.0),
        wider=(24.0, 84.0),
        clock_ppm=20.0,
        conditions=Conditions(19.0),
    )
    found, left = settings.as_found.circumstances, settings.as_left.circumstances
    assert (found.state, left.state) == (SurveyState.AS_FOUND, SurveyState.AS_LEFT)
    assert replace(found, state=left.state) == left
    assert left.target == settings.target
    assert (left.tolerances, left.clock_ppm, left.conditions) == ((0.5,), 20.0, Conditions(19.0))
    assert set(settings.as_left.notes) > set(settings.as_found.notes)


def test_a_curve_in_doubt_is_not_followed() -> None:
    """One note of many that lies far off looks like a mistake."""
    notes = tuple(float(note) for note in range(36, 85, 4))
    off = [0.02 * (k % 3) for k in range(len(notes))]
    off[5] = 40.0
    heard = tuple(
        Point(n, cv_of_note(n), note_to_hz(n) * 2 ** (o / 1200), 0.02, float(k))
        for k, (n, o) in enumerate(zip(notes, off, strict=True))
    )
    target = curve_followed("Heron", heard, same_take=True)
    assert notes[5] not in target.notes
    assert len(target.notes) == len(notes) - 1


def survey_of_heron() -> tuple[SurveySettings, list[Event]]:
    rig = theatre_rig()
    (voice,) = rig.only("Heron").voices
    rng = np.random.default_rng(1)
    bench = PracticeBench(voice.oscillator, rig.source("Loft"), Hand(rng), rng)
    under = Circumstances(SurveyState.AS_FOUND, TargetCurve.flat(442.0), clock_ppm=20.0)
    settings = SurveySettings(("Heron",), NOTES, circumstances=under)
    events: list[Event] = []
    run(survey(settings), bench, (events.append,), name="survey", settings=settings)
    return settings, events


def test_the_event_carries_them_and_comes_back_whole() -> None:
    settings, events = survey_of_heron()
    (closed,) = [event.what for event in events if isinstance(event.what, SurveyClosed)]
    assert closed.circumstances == settings.circumstances
    assert from_plain(to_plain(closed), SurveyClosed) == closed
    assert from_plain(to_plain(settings), SurveySettings) == settings


def before_they_were_noted(plain: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in plain.items() if name != "circumstances"}


def test_what_was_written_before_they_were_noted_is_read_and_gone_on_with() -> None:
    settings, events = survey_of_heron()
    (place,) = [k for k, event in enumerate(events) if isinstance(event.what, SurveyClosed)]
    old = from_plain(before_they_were_noted(to_plain(events[place].what)), SurveyClosed)
    assert old.circumstances is None
    assert surveyed(old).target == TargetCurve.flat()
    events[place] = replace(events[place], what=old)
    until_the_end = list(takewhile(lambda event: event.kind != "closed", events))
    request, result = replay(survey(settings), until_the_end)
    assert request is None
    assert result is not None
    other = replace(old, points=old.points[:-1])
    events[place] = replace(events[place], what=other)
    with pytest.raises(InputError, match="another procedure"):
        replay(survey(settings), events)
