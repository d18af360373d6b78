"""A source trimmed through a trusted oscillator, or by meter: its own truth is what comes out."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np
import pytest

from pitchwright.bench.practice import PracticeBench
from pitchwright.bench.runner import run
from pitchwright.bench.source_benches import (
    ByMeter,
    PracticeSourceBench,
    ThroughTrusted,
    source_trimmers,
)
from pitchwright.ensemble import Meter
from pitchwright.practice import CvSource, Oscillator, theatre_rig
from pitchwright.practice.hands import Hand
from pitchwright.practice.trimmable_source import TrimmableSource, trimmable
from pitchwright.procedures import SurveySettings, TrimSettings, guided_trim, survey
from pitchwright.procedures.requests import (
    Ended,
    PlayNote,
    TakeReadings,
    TrackPoint,
    TurnWatched,
    Wait,
    WatchTurn,
)
from pitchwright.tracking import TargetCurve, survey_oscillator
from pitchwright.trim.kinds import TrimmerKind
from pitchwright.trim.verdict import Standing
from pitchwright.units import NOTE_AT_0_V, cents_between, cv_of_note, note_to_hz

NOTES = tuple(float(note) for note in range(24, 85, 6))
WIDE = trimmable(CvSource("Attic", gain_error=0.004, offset_v=0.003))
"""4.8 cents per octave wide, 3.6 cents sharp: what a gain of 1.004 and 3 mV are."""


def settings() -> TrimSettings:
    return TrimSettings("Attic", source_trimmers(), 24.0, 84.0)


def left_cents(source: CvSource) -> float:
    """Greatest error of a source's own voltages, in cents at one volt per octave."""
    return max(abs(1200.0 * (source.cv_v(note) - cv_of_note(note))) for note in NOTES)


def own_curve(oscillator: Oscillator) -> TargetCurve:
    rng = np.random.default_rng(3)
    wanted = SurveySettings((oscillator.name,), NOTES)
    bench = PracticeBench(oscillator, CvSource("right"), Hand(rng), rng)
    points = run(survey(wanted), bench, name="survey", settings=wanted)[oscillator.name]
    curve = survey_oscillator(oscillator.name, points).curve.entries
    return TargetCurve.following(curve, oscillator.name, same_take=False)


def test_a_source_is_trimmed_through_an_oscillator_that_is_itself_off() -> None:
    """Heron is 7 cents per octave wide, which is known: the source comes right all the same."""
    rng = np.random.default_rng(1)
    (voice,) = theatre_rig().only("Heron").voices
    inner = PracticeSourceBench(voice.oscillator, WIDE.now, Hand(rng), rng, trimmable=WIDE)
    bench = ThroughTrusted(inner, "Attic", "Heron", own_curve(voice.oscillator))
    assert left_cents(inner.source) > 20.0
    wanted = settings()
    result = run(guided_trim(wanted), bench, name="guided trim", settings=wanted)
    assert result.verdict.standing is Standing.IN_TUNE
    assert left_cents(inner.source) < 1.1
    # The oscillator was not touched.
    assert inner.oscillator == voice.oscillator


def test_a_source_is_trimmed_by_meter() -> None:
    rng = np.random.default_rng(2)
    bench = PracticeSourceBench(
        Oscillator("Attic"), WIDE.now, Hand(rng), rng, reading_cents=0.12, trimmable=WIDE
    )
    wanted = settings()
    result = run(guided_trim(wanted), bench, name="guided trim", settings=wanted)
    assert result.verdict.standing is Standing.IN_TUNE
    assert left_cents(bench.source) < 1.2


def test_trimmers_of_a_source_act_as_base_and_as_scale_about_0_v() -> None:
    turned = WIDE.turned(TrimmerKind.SCALE, 1.0).now
    low, high = (turned.cv_v(note) - WIDE.now.cv_v(note) for note in (NOTE_AT_0_V, 84))
    assert low == pytest.approx(0.0, abs=1e-12)
    assert 1200.0 * high == pytest.approx(5 * 1.5, abs=0.6)  # five octaves, 1.5 cents a turn
    turned = WIDE.turned(TrimmerKind.BASE_FINE, 1.0).now
    shifts = [turned.cv_v(note) - WIDE.now.cv_v(note) for note in (24, 54, 84)]
    assert shifts == pytest.approx([shifts[0]] * 3)
    with pytest.raises(Exception, match="no high end trimmer"):
        WIDE.turned(TrimmerKind.HIGH_END, 1.0)


def test_a_knock_moves_every_note_of_the_source_alike() -> None:
    rng = np.random.default_rng(2)
    bench = PracticeSourceBench(Oscillator("A"), WIDE.now, Hand(rng), rng, trimmable=WIDE)
    bench.bump(6.0)
    assert 1200.0 * (bench.source.cv_v(24) - WIDE.now.cv_v(24)) == pytest.approx(6.0)
    assert 1200.0 * (bench.source.cv_v(84) - WIDE.now.cv_v(84)) == pytest.approx(6.0)


class Person:
    """Somebody at a real voltmeter who turns a real converter's trimmers: all played here."""

    def __init__(self) -> None:
        self.work: TrimmableSource = WIDE
        self.note = 60.0
        self.kind = TrimmerKind.SCALE
        self.said: list[str] = []
        self.turns: Iterator[float] = iter(())
        self.t_s = 0.0

    def clock(self) -> float:
        self.t_s += 1.0
        return self.t_s

    def read(self, question: str, may_be_nothing: bool) -> float | None:
        if may_be_nothing:
            turns = next(self.turns, None)
            if turns is None:
                return None
            self.work = self.work.turned(self.kind, turns)
        return round(self.work.now.cv_v(self.note), 4)


def metered(person: Person, meter: Meter | None = None) -> ByMeter:
    return ByMeter(
        "Attic",
        meter or Meter(0.0001, 0.0),
        person.read,
        person.said.append,
        person.clock,
        float(NOTE_AT_0_V),
    )


def watch(aim: float, start: float) -> WatchTurn:
    return WatchTurn(
        oscillator="Attic",
        trimmer="scale trimmer",
        visit=1,
        turn=1,
        note=84.0,
        cv_v=5.0,
        tuned_hz=note_to_hz(84),
        start_cents=start,
        aim_cents=aim,
        window_cents=0.5,
        low_cents=-50.0,
        high_cents=80.0,
        most_turns=None,
        clockwise=None,
        probe=False,
        sentence="Turn.",
    )


def test_a_typed_voltage_is_the_frequency_that_a_perfect_oscillator_would_play() -> None:
    person = Person()
    person.note = 84.0
    bench = metered(person, Meter(0.001, 0.002))
    bench.play(PlayNote(84.0, 5.0, "Play C6."))
    assert person.said == ["Play C6."]
    (heard,) = bench.listen(TakeReadings(84.0, 5.0, ("Attic",), 1.0, "")).heard
    assert heard.f_hz is not None
    # 5.023 V is 27.6 cents above 5 V, at one volt per octave.
    assert cents_between(heard.f_hz, note_to_hz(84)) == pytest.approx(27.6, abs=0.1)
    # 1 mV and 0.2 % of 5.023 V, together.
    assert heard.u_cents == pytest.approx(1200.0 * math.hypot(0.001, 0.002 * 5.023), rel=1e-3)
    assert bench.pass_time(Wait(99.0, "")).t_s > 0.0


@pytest.mark.parametrize(
    ("turns", "ended"),
    [((-0.5, -0.4), Ended.INSIDE), ((-0.5,), Ended.OUTSIDE), ((0.0, 0.0), Ended.STILL)],
)
def test_a_turn_by_meter_ends_when_nothing_more_is_typed(
    turns: tuple[float, ...], ended: Ended
) -> None:
    person = Person()
    person.note = 84.0
    person.turns = iter(turns)
    bench = metered(person)
    live: list[float] = []
    watched = bench.watch(watch(aim=21.1, start=27.6), lambda point: live.append(point.cents))
    assert watched.ended is ended
    assert [point.cents for point in watched.track] == live
    assert len(live) == len(turns)
    assert any("5.0176 V" in said for said in person.said)  # 21.1 cents above 5 V


def test_through_a_trusted_oscillator_aims_and_readings_are_the_source_s() -> None:
    """The oscillator is 10 cents sharp at every note: what the person sees is without it."""
    rng = np.random.default_rng(4)
    seen: list[WatchTurn] = []

    class Inner(PracticeSourceBench):
        def watch(self, request: WatchTurn, live: Callable[[TrackPoint], None]) -> TurnWatched:
            seen.append(request)
            return super().watch(request, live)

    inner = Inner(
        Oscillator("Heron", base_error_cents=10.0), WIDE.now, Hand(rng), rng, trimmable=WIDE
    )
    curve = TargetCurve.table({24.0: 10.0, 84.0: 10.0})
    bench = ThroughTrusted(inner, "Attic", "Heron", curve)
    (heard,) = bench.listen(TakeReadings(60.0, 3.0, ("Attic",), 1.0, "")).heard
    assert heard.oscillator == "Attic"
    bench.play(PlayNote(84.0, 5.0, ""))
    live: list[float] = []
    watched = bench.watch(watch(aim=21.0, start=27.6), lambda point: live.append(point.cents))
    assert seen[0].oscillator == "Heron"
    assert seen[0].aim_cents == pytest.approx(31.0)
    assert watched.after.oscillator == "Attic"
    assert live[-1] == pytest.approx(21.0, abs=2.5)
