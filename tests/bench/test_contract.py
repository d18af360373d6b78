"""Every bench keeps the contract that `Bench` in bench/runner.py says."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from tests.bench.virtual_room import VirtualPlayer, VirtualRoom

from pitchwright.bench.live.live_bench import LiveBench
from pitchwright.bench.practice import PracticeBench
from pitchwright.bench.practice_rig import RigBench
from pitchwright.bench.runner import Bench, run
from pitchwright.bench.source_benches import ByMeter, PracticeSourceBench, ThroughTrusted
from pitchwright.bench.stop import Stop, StopAsked
from pitchwright.ensemble import Meter
from pitchwright.practice import CvSource, theatre_rig
from pitchwright.practice.hands import Hand
from pitchwright.practice.trimmable_source import trimmable
from pitchwright.procedures import SurveySettings, survey
from pitchwright.procedures.events import Event, Procedure
from pitchwright.procedures.requests import (
    Answer,
    PlayNote,
    Request,
    TakeReadings,
    TrackPoint,
    Wait,
    WatchTurn,
)
from pitchwright.tracking import TargetCurve
from pitchwright.units import NOTE_AT_0_V, cents_between, cv_of_note, note_to_hz

Make = Callable[[float, Stop], Bench]
"""Opens a bench anew: the time its clock goes on from, and the wish to stop."""

FAR_CENTS = 40.0
"""No oscillator here is off by as much; the next note is 100 cents away."""


@dataclass(frozen=True)
class Kind:
    """A kind of bench: the oscillators it hears, a trimmer, and how it is opened."""

    oscillators: tuple[str, ...]
    trimmer: str
    make: Make


def practice(_: pytest.MonkeyPatch) -> Kind:
    (voice,) = theatre_rig().only("Wren").voices

    def make(t_s: float, stop: Stop) -> Bench:
        rng = np.random.default_rng(1)
        right = CvSource("right")
        return PracticeBench(
            voice.oscillator, right, Hand(rng), rng, t_s=t_s, pace=lambda _: stop.look()
        )

    return Kind(("Wren",), "fine base trimmer", make)


def whole_rig(_: pytest.MonkeyPatch) -> Kind:
    def make(t_s: float, stop: Stop) -> Bench:
        return RigBench(theatre_rig(), t_s=t_s, pace=lambda _: stop.look())

    return Kind(("Wren", "Heron"), "fine base trimmer", make)


def source_through_trusted(_: pytest.MonkeyPatch) -> Kind:
    (voice,) = theatre_rig().only("Wren").voices

    def make(t_s: float, stop: Stop) -> Bench:
        rng = np.random.default_rng(1)
        wide = trimmable(CvSource("Attic", gain_error=0.002, offset_v=0.003))
        inner = PracticeSourceBench(
            voice.oscillator,
            wide.now,
            Hand(rng),
            rng,
            t_s=t_s,
            pace=lambda _: stop.look(),
            trimmable=wide,
        )
        return ThroughTrusted(inner, "Attic", "Wren", TargetCurve.flat())

    return Kind(("Attic",), "fine base trimmer", make)


def by_meter(_: pytest.MonkeyPatch) -> Kind:
    def make(t_s: float, stop: Stop) -> Bench:
        now_s = [t_s]
        shown: list[float] = []

        def clock() -> float:
            now_s[0] += 0.1
            return now_s[0]

        def read_v(asked: str, may_be_nothing: bool) -> float | None:
            stop.look()
            if may_be_nothing and shown:
                return None
            (volts,) = re.findall(r"(?:\(|aim )(-?\d+\.\d+)", asked)
            shown.extend([0.0] * may_be_nothing)
            return float(volts)

        return ByMeter("Attic", Meter(), read_v, lambda _: None, clock, NOTE_AT_0_V)

    return Kind(("Attic",), "fine base trimmer", make)


def live(monkeypatch: pytest.MonkeyPatch, *, by_tool: bool) -> Kind:
    room = VirtualRoom(monkeypatch)

    def make(t_s: float, stop: Stop) -> Bench:
        room.sent.clear()
        room.say("Play C3 and hold it.")  # something sounds before anything is asked for
        channels = {"Heron": 0, "Wren": 1}
        return LiveBench(
            room,
            channels,
            VirtualPlayer(room) if by_tool else None,
            say=room.say,
            start_s=t_s,
            stop=stop,
        )

    return Kind(("Wren", "Heron"), "the small one", make)


def live_by_tool(monkeypatch: pytest.MonkeyPatch) -> Kind:
    return live(monkeypatch, by_tool=True)


def live_by_person(monkeypatch: pytest.MonkeyPatch) -> Kind:
    return live(monkeypatch, by_tool=False)


KINDS = [
    practice,
    whole_rig,
    source_through_trusted,
    by_meter,
    live_by_tool,
    live_by_person,
]


@pytest.fixture(params=KINDS, ids=lambda kind: kind.__name__)
def kind(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Kind:
    made: Kind = request.param(monkeypatch)
    return made


def play(note: float) -> PlayNote:
    return PlayNote(note, cv_of_note(note), "Play it.")


def take(kind: Kind, note: float) -> TakeReadings:
    return TakeReadings(note, cv_of_note(note), kind.oscillators, 2.0, "Listen.")


def turn(kind: Kind, note: float, bench: Bench) -> WatchTurn:
    """A turn that aims at where the reading stands already: nobody need turn far."""
    (heard, *_) = bench.listen(take(kind, note)).heard
    assert heard.f_hz is not None
    tuned_hz = note_to_hz(note)
    at = cents_between(heard.f_hz, tuned_hz)
    return WatchTurn(
        kind.oscillators[0],
        kind.trimmer,
        1,
        1,
        note,
        cv_of_note(note),
        tuned_hz,
        start_cents=at,
        aim_cents=at,
        window_cents=1.0,
        low_cents=at - 20.0,
        high_cents=at + 20.0,
        most_turns=None,
        clockwise=None,
        probe=False,
        sentence="Turn.",
    )


@pytest.mark.parametrize("played", [None, 48.0, 72.0])
def test_a_reading_is_of_the_note_asked_for(kind: Kind, played: float | None) -> None:
    """On a bench just opened, and after another note was played."""
    bench = kind.make(0.0, Stop())
    if played is not None:
        bench.play(play(played))
    for note in (60.0, 54.0):
        answer = bench.listen(take(kind, note))
        assert tuple(one.oscillator for one in answer.heard) == kind.oscillators
        for one in answer.heard:
            assert one.f_hz is not None
            assert one.u_cents > 0.0
            assert one.doubts == ()
            assert abs(cents_between(one.f_hz, note_to_hz(note))) < FAR_CENTS


def test_a_turn_is_watched_on_a_bench_just_opened(kind: Kind) -> None:
    request = turn(kind, 60.0, kind.make(0.0, Stop()))
    seen: list[TrackPoint] = []
    watched = kind.make(0.0, Stop()).watch(request, seen.append)
    assert watched.after.oscillator == kind.oscillators[0]
    assert watched.after.f_hz is not None
    assert abs(cents_between(watched.after.f_hz, request.tuned_hz)) < FAR_CENTS
    assert tuple(seen) == watched.track


@pytest.mark.parametrize("start_s", [0.0, 5000.0])
def test_the_clock_goes_on_and_never_falls(kind: Kind, start_s: float) -> None:
    bench = kind.make(start_s, Stop())
    times = [bench.now_s()]
    assert times[0] >= start_s
    for note in (60.0, 65.0):
        times.append(bench.play(play(note)).t_s)
        heard = bench.listen(take(kind, note)).heard
        assert all(start_s < one.t_s <= bench.now_s() for one in heard)
        times.append(bench.now_s())
        times.append(bench.pass_time(Wait(times[-1] + 3.0, "")).t_s)
        times.append(bench.pass_time(Wait(0.0, "A moment that has passed.")).t_s)
        times.append(bench.now_s())
    assert times == sorted(times)
    assert times[-1] < start_s + 60.0


def one_request(request: Request) -> Procedure[Answer]:
    return (yield request)


@pytest.mark.parametrize("what", ["play", "listen", "watch", "wait"])
def test_a_stop_is_seen_while_it_waits_and_leaves_no_answer(kind: Kind, what: str) -> None:
    stop = Stop()
    requests: dict[str, Request] = {
        "play": play(60.0),
        "listen": take(kind, 60.0),
        "watch": turn(kind, 60.0, kind.make(0.0, Stop())),
        "wait": Wait(30.0, "Let it settle."),
    }
    events: list[Event] = []

    def stops_once_it_was_asked(event: Event) -> None:
        events.append(event)
        if event.kind not in ("started", "interrupted"):
            stop.ask()

    by_hand = kind.make.__qualname__.startswith("by_meter")
    if by_hand and what in ("play", "wait"):
        # Where a person reads a meter nothing is waited for, so the answer comes all the same.
        run(
            one_request(requests[what]),
            kind.make(0.0, stop),
            [stops_once_it_was_asked],
            name="one request",
            settings=None,
        )
        assert [event.kind for event in events][-1] == "closed"
        return
    with pytest.raises(StopAsked):
        run(
            one_request(requests[what]),
            kind.make(0.0, stop),
            [stops_once_it_was_asked],
            name="one request",
            settings=None,
        )
    assert [event.kind for event in events if event.kind != "turning"] == [
        "started",
        requests[what].kind,
        "interrupted",
    ]


def test_a_survey_stopped_at_every_request_ends_as_if_it_had_not_been(kind: Kind) -> None:
    """Each time it goes on from its events alone, on a bench that has just been opened."""
    settings = SurveySettings(kind.oscillators, (48.0, 54.0, 60.0, 66.0, 72.0))

    def survey_on(stop: Stop, earlier: list[Event], take_in: Callable[[Event], None]) -> object:
        t_s = earlier[-1].t_s if earlier else 0.0
        return run(
            survey(settings),
            kind.make(t_s, stop),
            [take_in],
            name="survey",
            settings=settings,
            earlier=earlier,
            stop=stop,
        )

    events: list[Event] = []
    whole = survey_on(Stop(), [], lambda _: None)
    result: object = None
    for _ in range(100):
        stop = Stop()
        fresh: list[Event] = []

        def take_in(event: Event, stop: Stop = stop, fresh: list[Event] = fresh) -> None:
            fresh.append(event)
            if event.kind in ("note played", "readings taken", "chosen", "waited"):
                stop.ask()

        with contextlib.suppress(StopAsked):
            result = survey_on(stop, events, take_in)
        events = [*events, *fresh]
        if result is not None:
            break
    assert isinstance(result, dict)
    assert isinstance(whole, dict)
    assert result.keys() == whole.keys()
    for name, points in whole.items():
        assert [one.note for one in result[name]] == [one.note for one in points]
        for one, other in zip(result[name], points, strict=True):
            assert abs(cents_between(one.f_hz, other.f_hz)) < 1.0
