"""Surveys over a real sound server: by voltage, by MIDI, and with a person who plays.

The truth is the stand-in's own: the frequency that its simulated physics gives at the voltage sent,
what the oscillator does by itself at that moment included (a few hundredths of a cent).
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import pytest

from pitchwright.practice.scenario import theatre_rig
from pitchwright.units import cents_between, cv_of_note

pytestmark = pytest.mark.needs("pulseaudio", "pulseaudio-utils", "libportaudio2")

NOTES = "C1, F#1, C3, C4, C6"


def off_truth_cents(points: list[dict[str, Any]], f_hz: list[float]) -> list[float]:
    return [
        cents_between(point["f_hz"], true_hz) for point, true_hz in zip(points, f_hz, strict=True)
    ]


def test_a_survey_by_voltage_finds_the_curve_and_leaves_the_voltage_at_0(
    make_bench: Callable[..., Any],
) -> None:
    bench, _ = make_bench(oscillators=("Heron", "Wren"))
    heron = bench.stand_in("--voltage-in", "voltage_out", "--only", "Heron, Wren")
    heron.tell("loud Wren 0.004 200 400")
    run = bench.tool("survey", "--notes", NOTES, "--no-sheet")
    assert run.wait() == 0, run.said()
    # The inputs are checked by the first note, C4.
    checked = run.said().partition("2 of")[0]
    assert "Wren: The level is low" in checked
    assert "Turn the input's gain up" in checked
    assert "Heron: " not in checked
    for name in ("Heron", "Wren"):
        points = run.points(name)
        assert [point["note"] for point in points] == [60, 24, 84, 30, 48, 60, 24, 84]
        # Where a computer is so busy that sound is lost again and again, a reading is left out in
        # the end, and says why; how good readings are on a quiet one is a benchmark's business.
        kept = [point for point in points if point["kept"]]
        assert len(kept) >= 4
        assert all(point["kept"] or point["why"] for point in points)
        assert all(0.0 < point["u_cents"] <= 0.2 for point in kept)
        truth = heron.f_hz(*(point["cv_v"] for point in kept), name=name)
        assert max(map(abs, off_truth_cents(kept, truth))) < 0.2
    assert "never let this output feed a loudspeaker" in run.said()
    assert abs(heron.tell("voltmeter")["volts"]) < 0.001


@pytest.mark.needs("jackd2")
def test_a_survey_by_midi_measures_keyboard_and_oscillator_together(
    make_bench: Callable[..., Any], jack: Any
) -> None:
    bench, _ = make_bench(env=jack.env, notes="midi")
    heron = bench.stand_in("--midi-in", "Loft")
    run = bench.tool("survey", "--notes", NOTES, "--no-sheet")
    assert run.wait() == 0, run.said()
    assert eventually(lambda: heron.tell("truth")["held"], lambda held: held == []) == []
    points = run.points()
    # What the keyboard really puts out for a note is part of what is heard.
    loft = theatre_rig().source("Loft")
    sent_v = [loft.cv_v(point["note"]) for point in points]
    assert [point["note"] for point in points] == [60, 24, 84, 30, 48, 60, 24, 84]
    assert max(map(abs, off_truth_cents(points, heron.f_hz(*sent_v)))) < 0.2
    assert max(abs(v - cv_of_note(p["note"])) for v, p in zip(sent_v, points, strict=True)) > 1e-4


def eventually(ask: Callable[[], Any], wanted: Callable[[Any], bool]) -> Any:
    """Ask until the answer is what is wanted, or for ten seconds; the last answer."""
    until_s = time.monotonic() + 60.0
    while not wanted(answer := ask()) and time.monotonic() < until_s:
        time.sleep(0.05)
    return answer
