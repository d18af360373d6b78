"""What a trim on the page is to come to, and where the beats of a plan come out.

A beat is the difference of two frequencies (common practice, and its definition): a plan's target
is checked against that, not against its own arithmetic.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from pitchwright.errors import InputError
from pitchwright.procedures.outcomes import SurveyClosed
from pitchwright.tracking import Point
from pitchwright.units import cv_of_note, note_to_hz, ratio_of_cents
from pitchwright.upkeep.diary import diary
from pitchwright.web.conductor import Conductor
from pitchwright.web.practice_rig import PracticeRig
from pitchwright.web.scene import Phase
from pitchwright.web.targets import FLAT, Kind, Target, target_of

LONG_S = 120.0

NOTES = tuple(float(note) for note in range(36, 73, 6))


def wren(off_cents: float = 12.0) -> SurveyClosed:
    """An oscillator that stands so many cents above equal temperament everywhere."""
    points = tuple(
        Point(note, cv_of_note(note), note_to_hz(note) * ratio_of_cents(off_cents), 0.05, 1.0 * n)
        for n, note in enumerate(NOTES)
    )
    return SurveyClosed("Wren", points)


@pytest.mark.parametrize("kind", [Kind.FLAT, Kind.OWN])
def test_equal_temperament_needs_nobody_else(kind: Kind) -> None:
    wanted = target_of(Target(kind), "Heron", 36.0, 72.0, None)
    assert wanted.planned is None
    assert wanted.curve.cents_at(60.0) == pytest.approx(0.0, abs=1e-9)


def test_following_goes_where_the_leader_is() -> None:
    curve = target_of(Target(Kind.FOLLOW, "Wren"), "Heron", 36.0, 72.0, wren()).curve
    assert [curve.cents_at(note) for note in NOTES] == pytest.approx([12.0] * len(NOTES), abs=1e-6)
    assert "Wren" in curve.words


def test_a_distance_counts_from_the_leader_as_it_is() -> None:
    wanted = target_of(Target(Kind.CENTS, "Wren", -5.0), "Heron", 36.0, 72.0, wren())
    assert wanted.curve.cents_at(48.0) == pytest.approx(7.0, abs=1e-6)
    assert wanted.planned is not None
    assert [voice.name for voice in wanted.planned.plan.voices] == ["Wren", "Heron"]


def test_beats_come_out_as_wanted_where_they_are_slowest() -> None:
    wanted = target_of(Target(Kind.BEATS, "Wren", 0.5), "Heron", 36.0, 72.0, wren())
    rates = [
        note_to_hz(note) * (ratio_of_cents(wanted.curve.cents_at(note)) - ratio_of_cents(12.0))
        for note in range(36, 73)
    ]
    assert min(rates) == pytest.approx(0.5, rel=0.02)
    assert max(rates) < 1.0, "constant cents would beat eight times as fast at the top"


@pytest.mark.parametrize(
    ("target", "match"),
    [
        (Target(Kind.FOLLOW, "Wren"), "Survey it"),
        (Target(Kind.BEATS, "Wren", 1.0), "Survey it"),
    ],
)
def test_a_leader_that_was_not_surveyed_is_refused(target: Target, match: str) -> None:
    with pytest.raises(InputError, match=match):
        target_of(target, "Heron", 36.0, 72.0, None)


@pytest.mark.parametrize(
    "target",
    [
        Target(Kind.BEATS, "Wren", 0.0),
        Target(Kind.BEATS, "Wren", 100.0),
        Target(Kind.BEATS, "Wren", float("nan")),
        Target(Kind.CENTS, "Wren", 0.0),
        Target(Kind.CENTS, "Wren", float("inf")),
    ],
)
def test_what_is_no_detune_is_refused(target: Target) -> None:
    with pytest.raises(InputError, match="no detune"):
        target_of(target, "Heron", 36.0, 72.0, wren())


def test_nobody_follows_themselves_or_leaves_the_leaders_range() -> None:
    with pytest.raises(InputError):
        target_of(Target(Kind.FOLLOW, "Wren"), "Wren", 36.0, 72.0, wren())
    with pytest.raises(InputError, match="outside"):
        target_of(Target(Kind.CENTS, "Wren", 5.0), "Heron", 24.0, 72.0, wren())


def test_flat_is_what_is_meant_where_nothing_is_said() -> None:
    assert Target() == FLAT
    assert FLAT.kind is Kind.FLAT


def test_a_trim_goes_by_what_was_surveyed_before_and_its_plan_is_written_down(
    tmp_path: Path,
) -> None:
    rig = PracticeRig(hand=True, pace=lambda people, _: people.wait(0.0))
    conductor = Conductor(lambda: rig, logbook=f"{tmp_path}/logbook.sqlite")
    conductor.open()
    conductor.wait_for(lambda scene: scene.connected is not None, LONG_S)
    with pytest.raises(InputError, match="Survey it"):
        conductor.trim("a", "Heron", 36.0, 72.0, target=Target(Kind.FOLLOW, "Wren"))
    conductor.survey("a", ["Wren"], 36.0, 72.0)
    conductor.wait_for(lambda scene: scene.phase is Phase.ENDED, LONG_S)
    conductor.trim("a", "Heron", 36.0, 72.0, target=Target(Kind.BEATS, "Wren", 0.5))
    scene = conductor.wait_for(lambda scene: scene.verdict is not None, LONG_S)
    assert scene.settings["target"]["words"] == "the planned detune of Heron"
    assert [one.oscillator for one in scene.curves] == ["Wren"], "what was turned is another now"
    assert conductor.logbook is not None
    (line,) = [one for one in diary(conductor.logbook) if one.what == "detune"]
    assert "a beat every 2 s" in line.words
    conductor.close()
