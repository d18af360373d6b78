"""A person who plays: told which note, in any order, wrong notes and chords noticed at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from pitchwright.practice.scenario import theatre_rig
from pitchwright.units import cents_between

pytestmark = pytest.mark.needs("pulseaudio", "pulseaudio-utils", "libportaudio2")


def test_a_person_plays_in_any_order_and_slips(make_bench: Callable[..., Any]) -> None:
    bench, _ = make_bench(notes="person")
    heron = bench.stand_in()
    run = bench.tool("survey", "--notes", "C3, C4, C5", "--no-sheet")
    run.until_said("Play C4 and hold it.")
    heron.tell("play C4")
    run.until_said("Play C3 and hold it.")
    heron.tell("play E4")
    run.until_said("That is near E4; C3 is wanted.")
    heron.tell("play C5")
    run.until_said("C5 is wanted too: it is kept. Now C3.")
    heron.tell("mix Heron 4")
    heron.tell("play C3")
    run.until_said("No single note can be heard")
    heron.tell("mix Heron")
    run.until_said("Play C4 and hold it.", times=2)
    heron.tell("play C4")
    run.until_said("Play C3 and hold it.", times=2)
    heron.tell("play C3")
    run.until_said("Play C5 and hold it.")
    heron.tell("play C5")
    assert run.wait() == 0, run.said()
    points = run.points()
    assert [point["note"] for point in points] == [60, 48, 72, 60, 48, 72]
    assert all(point["kept"] for point in points)
    loft = theatre_rig().source("Loft")
    truth = heron.f_hz(*(loft.cv_v(point["note"]) for point in points))
    for point, true_hz in zip(points, truth, strict=True):
        assert abs(cents_between(point["f_hz"], true_hz)) < 0.2, point
