"""The moment of turning in words and figures: what is said, and what a device is sent."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from pitchwright.procedures.requests import Heard, WatchTurn
from pitchwright.units import note_to_hz, ratio_of_cents
from pitchwright.web.plumb import Plumb
from pitchwright.web.scene import Phase, Read, Scene
from pitchwright.web.screens.turning import (
    heard_yet,
    instruction,
    message_of,
    missed,
    part_of,
    reason,
)

TURN = WatchTurn(
    oscillator="Heron",
    trimmer="scale trimmer",
    visit=1,
    turn=1,
    note=81.0,
    cv_v=4.75,
    tuned_hz=880.0,
    start_cents=-10.0,
    aim_cents=-21.6,
    window_cents=0.4,
    low_cents=-25.0,
    high_cents=-7.0,
    most_turns=None,
    clockwise=None,
    probe=False,
    sentence="",
)
FEED = {"n": 9, "turn": 3, "rest": 0.5, "points": []}


def test_one_sentence_with_the_way_once_it_is_known() -> None:
    assert instruction(TURN) == "Turn the scale trimmer until the bob rests on the aim."
    assert " clockwise" in instruction(replace(TURN, clockwise=True))
    assert " counter-clockwise" in instruction(replace(TURN, clockwise=False))
    assert "a little" in instruction(replace(TURN, probe=True))
    assert instruction(replace(TURN, turn=2, start_cents=-20.9)).startswith("Nudge")
    assert "beat" in instruction(TURN, by_ear=True)


def test_the_reason_names_the_aim_where_it_is_not_zero() -> None:
    assert "−21.6" in reason(TURN)
    assert "0.2" not in reason(replace(TURN, aim_cents=0.2))


@pytest.mark.parametrize(
    ("scene", "part"),
    [
        (Scene(phase=Phase.TURNING, turning=replace(TURN, probe=True), visits=1), "probe"),
        (Scene(phase=Phase.LISTENING, visits=1), "far"),
        (Scene(phase=Phase.TURNING, turning=TURN, visits=1), "exact"),
        (Scene(phase=Phase.LISTENING, visits=0), ""),
    ],
)
def test_the_three_parts_of_a_visit(scene: Scene, part: str) -> None:
    assert part_of(scene) == part


def shown_at(cents: float) -> dict[str, object]:
    plumb = Plumb(TURN.aim_cents, TURN.window_cents, TURN.start_cents)
    shown = plumb.take((0.05 * i, cents) for i in range(12))
    return message_of(TURN, shown, FEED, hidden=False)


def test_the_message_says_how_far_in_figures_and_in_words() -> None:
    sharp = shown_at(-18.2)
    words = sharp["words"]
    assert isinstance(words, dict)
    assert words["figure"] == "3.4"
    assert words["sense"] == "too sharp"
    assert "−18.2" in words["reads"]
    assert sharp["inside"] is False
    assert sharp["low_cents"] == pytest.approx(-3.4)
    json.dumps(sharp)
    flat = shown_at(-25.0)["words"]
    assert isinstance(flat, dict)
    assert flat["sense"] == "too flat"
    inside = shown_at(-21.7)
    assert inside["inside"] is True


def test_the_tones_beat_with_the_difference() -> None:
    message = shown_at(-18.2)
    aim_hz = 880.0 * ratio_of_cents(-21.6)
    assert message["aim_hz"] == pytest.approx(aim_hz, abs=1e-3)
    assert message["beat_hz"] == pytest.approx(aim_hz * (ratio_of_cents(3.4) - 1.0), abs=2e-3)


def test_hidden_numbers_are_not_even_sent() -> None:
    plumb = Plumb(TURN.aim_cents, TURN.window_cents, TURN.start_cents)
    shown = plumb.take((0.05 * i, -18.2) for i in range(12))
    message = message_of(TURN, shown, FEED, hidden=True)
    assert set(message) == {"turn", "f_hz", "aim_hz", "beat_hz"}


def test_what_the_ear_missed() -> None:
    aim_hz = 880.0 * ratio_of_cents(-21.6)
    words = missed(TURN, aim_hz * ratio_of_cents(-2.0))
    assert "2.0 cents too flat" in words
    assert "inside" in missed(TURN, aim_hz * ratio_of_cents(0.1))


def test_readings_so_far_make_a_sheet() -> None:
    heard = Heard("Heron", 1.0, 440.0 * ratio_of_cents(3.0), 0.1)
    scene = Scene(oscillators=("Heron",), readings=(Read(69.0, heard),))
    sheet = heard_yet(scene, 1.0)
    assert sheet is not None
    assert sheet.now[0].cents == pytest.approx(3.0)
    assert heard_yet(Scene(oscillators=("Heron",)), 1.0) is None


@pytest.mark.parametrize(
    ("note", "wanted"), [(36.0, 2.0), (48.0, 2.0), (54.0, 5.0), (60.0, 8.0), (72.0, 8.0)]
)
def test_what_is_heard_first_counts_from_the_target(note: float, wanted: float) -> None:
    f_hz = note_to_hz(note) * ratio_of_cents(10.0)
    target = {"notes": (48.0, 60.0), "cents": (2.0, 8.0), "everywhere": False}
    scene = Scene(
        oscillators=("Heron",),
        settings={"target": target},
        readings=(Read(note, Heard("Heron", 1.0, f_hz, 0.1)),),
    )
    sheet = heard_yet(scene, 1.0)
    assert sheet is not None
    assert sheet.now[0].cents == pytest.approx(10.0 - wanted)
