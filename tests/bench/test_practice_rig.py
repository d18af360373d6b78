"""The whole practice rig as a bench: it is what its rig is, and it warms up."""

from __future__ import annotations

import numpy as np
import pytest

from pitchwright.bench.practice_rig import RigBench
from pitchwright.bench.runner import run
from pitchwright.errors import InputError
from pitchwright.practice import theatre_rig
from pitchwright.practice.room import Room
from pitchwright.procedures import TrimSettings, guided_trim
from pitchwright.procedures.requests import Ask, Choice, PlayNote, TakeReadings, Wait
from pitchwright.trim.kinds import TrimmerKind
from pitchwright.trim.trimmer import Trimmer
from pitchwright.trim.verdict import Standing
from pitchwright.units import cents_between


def read(bench: RigBench, name: str, note: float = 60.0) -> float:
    bench.play(PlayNote(note, 3.0, ""))
    (heard,) = bench.listen(TakeReadings(note, 3.0, (name,), 1.0, "")).heard
    assert heard.f_hz is not None
    return heard.f_hz


def test_a_reading_is_the_rigs_truth_and_a_little_noise() -> None:
    rig = theatre_rig()
    (voice,) = rig.only("Wren").voices
    cv_v = np.array([rig.source("Loft").cv_v(60.0)])
    true_hz = float(voice.oscillator.f_hz(cv_v, 1.5, 25.0)[0])
    away = [cents_between(read(RigBench(rig, seed=seed), "wren"), true_hz) for seed in range(20)]
    assert 0.005 < float(np.std(away)) < 0.1


def test_it_warms_up_while_time_passes() -> None:
    bench = RigBench(theatre_rig(on_for_s=0.0))
    cold = read(bench, "Heron")
    waited = bench.pass_time(Wait(3600.0, ""))
    assert waited.t_s == 3600.0
    assert waited.temperature_c == pytest.approx(25.0, abs=0.6)
    assert abs(cents_between(read(bench, "Heron"), cold)) > 2.0
    # A moment that has passed is not waited for.
    assert bench.pass_time(Wait(10.0, "")).t_s == bench.now_s() > 3600.0


def test_the_room_swings_as_it_says() -> None:
    room = Room(20.0, swing_k=0.5, period_s=100.0)
    assert [round(room.temperature_c(t), 9) for t in (0.0, 25.0, 75.0)] == [20.0, 20.5, 19.5]


def test_a_question_about_the_source_connects_it() -> None:
    bench = RigBench(theatre_rig())
    loft = read(bench, "Heron", 84.0)
    choices = (Choice("Stairs", "Stairs"), Choice("leave out", "Leave it out"))
    assert bench.choose(Ask("source", "", choices, "Stairs")).key == "Stairs"
    assert bench.source.name == "Stairs"
    assert abs(cents_between(read(bench, "Heron", 84.0), loft)) > 0.5
    assert bench.choose(Ask("go on", "", choices, "leave out")).key == "leave out"
    assert bench.source.name == "Stairs"


def test_a_trimmer_turned_here_stays_turned() -> None:
    """A guided trim of one oscillator among all, and the next reading knows of it."""
    bench = RigBench(theatre_rig(), room=Room(swing_k=0.0))
    trimmers = tuple(
        Trimmer(name, kind)
        for name, kind in (
            ("coarse base trimmer", TrimmerKind.BASE_COARSE),
            ("fine base trimmer", TrimmerKind.BASE_FINE),
            ("scale trimmer", TrimmerKind.SCALE),
            ("high-frequency trimmer", TrimmerKind.HIGH_END),
        )
    )
    settings = TrimSettings("Heron", trimmers, 36.0, 72.0)
    result = run(guided_trim(settings), bench, name="guided trim", settings=settings)
    assert result.verdict.standing is Standing.IN_TUNE
    assert abs(cents_between(read(bench, "Heron", 72.0), 523.2511)) < 1.2


def test_an_unknown_source_is_refused() -> None:
    with pytest.raises(InputError, match="no source called Attic"):
        RigBench(theatre_rig(), "Attic")
