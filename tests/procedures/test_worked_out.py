"""What is worked out without a bench is an event like all others, and comes back from JSON."""

import json
from typing import Any

import pytest

from pitchwright.certificate.corrections import corrections, corrections_made
from pitchwright.detune import distance, even
from pitchwright.procedures.events import Event
from pitchwright.procedures.worked_out import DetunePlanned, route_solved
from pitchwright.route import Oscillator, PassiveMultiple, Patch, Source, report
from pitchwright.tracking import CurveEntry, Point, TargetCurve
from pitchwright.units import cv_of_note, note_to_hz, ratio_of_cents


def back(what: Any) -> Any:
    event = Event(1, 0.0, "2026-01-02T03:04:05.678+00:00", what)
    return Event.from_dict(json.loads(json.dumps(event.to_dict(), allow_nan=False))).what


def test_a_solved_route_says_what_was_found_and_what_to_patch_instead() -> None:
    patch = Patch(
        (
            Source("Loft", 1000.0, step_error_v={60: 0.002}),
            PassiveMultiple("split", "Loft"),
            Oscillator("Heron", "split", 1e5),
            Oscillator("Wren", "split", 1e5),
        )
    )
    found = report(patch, [48, 60])
    solved = route_solved("Pit band", found)
    assert solved.deliveries == found.deliveries
    assert solved.instead[0] == found.instead[0].sentence
    assert back(solved) == solved


def test_a_planned_detune_carries_its_target_curves_and_how_far_today_is() -> None:
    plan = even(0.5, 48, 60, ["Heron", "Wren", "Plover"])
    today = {
        name: [CurveEntry(float(n), cv_of_note(n), note_to_hz(n), 0.0, 0.1) for n in (48, 60)]
        for name in ("Heron", "Wren")
    }
    planned = DetunePlanned(plan, distance(plan, today))
    assert planned.today[0].pair == "Heron and Wren"
    assert back(planned) == planned
    assert back(DetunePlanned(plan)) == DetunePlanned(plan)


def test_a_beat_that_stands_still_has_no_finite_ratio_and_is_written_all_the_same() -> None:
    plan = even(0.5, 48, 60)
    today = {
        name: [CurveEntry(float(n), cv_of_note(n), note_to_hz(n), 0.0, 0.1) for n in (48, 60)]
        for name in ("leader", "follower")
    }
    planned = DetunePlanned(plan, distance(plan, today))
    assert planned.today[0].ratio == float("inf")
    assert back(planned) == planned


@pytest.mark.parametrize("sent_to", ["", "Loft MIDI 1"])
def test_corrections_made_leave_out_notes_that_no_reading_reaches(sent_to: str) -> None:
    points = [
        Point(n, cv_of_note(n), note_to_hz(n) * ratio_of_cents(c), 0.02, 0.0)
        for n, c in {48.0: 3.0, 60.0: -2.0, 72.0: 7.0}.items()
    ]
    table = corrections(points, TargetCurve.flat())
    made = corrections_made("Dunlin", table, sent_to)
    assert [one.note for one in made.notes] == list(range(48, 73))
    assert made.notes[0].correction_cents == table.notes[48].correction_cents
    assert made.sent_to == sent_to
    assert back(made) == made
