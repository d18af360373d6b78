"""What goes wrong with devices while a survey runs, done to real servers and processes.

After each the survey goes on from where it was and its curve is as good as ever.
"""

from __future__ import annotations

import signal
import time
from collections.abc import Callable
from typing import Any

import pytest

from pitchwright.units import cents_between

pytestmark = pytest.mark.needs("pulseaudio", "pulseaudio-utils", "libportaudio2")

NOTES = ("--notes", "C2, C4, C6", "--no-sheet")
PLAYED = [60, 36, 84, 60, 36, 84]


def survey_was_right(run: Any, heron: Any) -> None:
    assert run.wait() == 0, run.said()
    points = run.points()
    assert [point["note"] for point in points] == PLAYED
    assert all(point["kept"] for point in points), points
    sent_v = [point["cv_v"] for point in points]
    for point, true_hz in zip(points, heron.f_hz(*sent_v), strict=True):
        assert abs(cents_between(point["f_hz"], true_hz)) < 0.2, point


def test_an_input_that_vanishes_or_falls_silent_is_waited_for(
    make_bench: Callable[..., Any],
) -> None:
    bench, pulse = make_bench(heard_at="ear")
    ear = pulse.add_ear()
    heron = bench.stand_in("--voltage-in", "voltage_out")
    run = bench.tool("survey", *NOTES)
    run.until_note(36.0)
    pulse.pull_out_ear(ear)
    run.until_said("Connect it again")
    ear = pulse.add_ear()
    run.until_said("It is back")
    run.until_note(84.0)
    pulse.pactl("suspend-source", "ear", "1")
    run.until_said("No more sound comes from the input", times=2)
    pulse.pactl("suspend-source", "ear", "0")
    survey_was_right(run, heron)


def test_a_sound_server_that_is_killed_is_waited_for(make_bench: Callable[..., Any]) -> None:
    bench, pulse = make_bench()
    bench.stand_in("--voltage-in", "voltage_out")
    run = bench.tool("survey", *NOTES)
    run.until_note(36.0)
    pulse.stop()
    run.until_said("Connect it again")
    pulse.start()
    heron = bench.stand_in("--voltage-in", "voltage_out")
    survey_was_right(run, heron)


def test_sound_that_was_lost_while_the_tool_stood_still_is_read_again(
    make_bench: Callable[..., Any],
) -> None:
    # Another rate than the sound server's own, too: it converts, and the pitch stays.
    bench, _ = make_bench(rate_hz=44_100)
    heron = bench.stand_in("--voltage-in", "voltage_out")
    run = bench.tool("survey", *NOTES)
    run.until_note(36.0)
    run.process.send_signal(signal.SIGSTOP)
    time.sleep(2.0)
    run.process.send_signal(signal.SIGCONT)
    survey_was_right(run, heron)
    assert "again" in run.said()


@pytest.mark.needs("jackd2")
def test_a_midi_port_that_is_gone_and_a_note_that_hangs_are_told_and_no_note_stays_on(
    make_bench: Callable[..., Any], jack: Any
) -> None:
    bench, _ = make_bench(env=jack.env, notes="midi")
    heron = bench.stand_in("--midi-in", "Loft")
    run = bench.tool("survey", *NOTES)
    run.until_note(36.0)
    heron.end()
    run.until_said("Connect it again")
    heron = bench.stand_in("--midi-in", "Loft")
    run.until_said("It is back")
    heron.tell("play G4")  # a hand lies on a key
    run.until_said("does not follow the notes")
    assert run.interrupt() == 130
    heron.tell("release")
    until_s = time.monotonic() + 60.0
    while heron.tell("truth")["held"] and time.monotonic() < until_s:
        time.sleep(0.05)
    assert heron.tell("truth")["held"] == []


@pytest.mark.parametrize("presses", [1, 3])
def test_ctrl_c_leaves_0_v_and_a_survey_that_can_go_on(
    make_bench: Callable[..., Any], presses: int
) -> None:
    bench, _ = make_bench()
    heron = bench.stand_in("--voltage-in", "voltage_out")
    stopped = bench.tool("survey", *NOTES)
    stopped.until(lambda what: what["kind"] == "readings taken", lambda _: None)
    stopped.until_note(36.0)
    for _ in range(presses - 1):
        stopped.process.send_signal(signal.SIGINT)
        time.sleep(0.03)
    assert stopped.interrupt() == 130
    read = stopped.events.read_text(encoding="utf-8").count('"readings taken"')
    until_s = time.monotonic() + 60.0
    while abs(heron.tell("voltmeter")["volts"]) > 0.001 and time.monotonic() < until_s:
        time.sleep(0.05)
    assert abs(heron.tell("voltmeter")["volts"]) < 0.001
    run = bench.tool("survey", *NOTES)
    survey_was_right(run, heron)
    whole = run.events.read_text(encoding="utf-8")
    assert whole.count('"readings taken"') == len(PLAYED) >= read >= 1
    assert "it can go on from here" in whole


def test_an_oscillator_that_stops_at_a_low_note_and_one_that_clips_are_told(
    make_bench: Callable[..., Any],
) -> None:
    bench, _ = make_bench(oscillators=("Heron", "Wren"))
    rig = bench.stand_in("--voltage-in", "voltage_out", "--only", "Heron, Wren")
    rig.tell("loud Heron 0 20 100")
    rig.tell("loud Wren 4 900 1200")
    run = bench.tool("survey", "--notes", "C2, C3, C4, C6", "--no-sheet")
    assert run.wait() == 0, run.said()
    low = [point for point in run.points("Heron") if not point["kept"]]
    assert [point["note"] for point in low] == [36, 36]
    assert all(point["why"] for point in low)
    wren = run.points("Wren")
    assert all(point["kept"] for point in wren)
    assert "Wren is clipped at C6: turn its level down" in run.said()
    assert "Wren is clipped at C4" not in run.said()
