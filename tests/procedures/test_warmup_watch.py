"""The warm-up watch: driven by hand-made answers, and on the practice rig."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from pitchwright.bench.practice_rig import RigBench
from pitchwright.bench.runner import run
from pitchwright.errors import InputError
from pitchwright.practice import theatre_rig
from pitchwright.procedures import WarmupWatched, WatchSettings, warmup_watch
from pitchwright.procedures.events import Event, replay
from pitchwright.procedures.outcomes import ForecastMade
from pitchwright.procedures.requests import (
    Heard,
    NotePlayed,
    PlayNote,
    ReadingsTaken,
    Tell,
    Wait,
    Waited,
)
from pitchwright.stability import Readiness
from pitchwright.units import note_to_hz, ratio_of_cents


class Written:
    """A bench whose pitch is a function of time, the same for every oscillator."""

    def __init__(self, cents: Callable[[float], float | None], enough_s: float = math.inf) -> None:
        self.cents, self.enough_s, self.t_s = cents, enough_s, 0.0
        self.played: list[float] = []

    def now_s(self) -> float:
        return self.t_s

    def play(self, request: PlayNote) -> NotePlayed:
        self.played.append(request.note)
        return NotePlayed(self.t_s)

    def listen(self, request: Any) -> ReadingsTaken:
        cents = self.cents(self.t_s)
        f_hz = None if cents is None else note_to_hz(request.note) * ratio_of_cents(cents)
        return ReadingsTaken(
            tuple(Heard(name, self.t_s, f_hz, 0.05) for name in request.oscillators)
        )

    def watch(self, request: Any, live: Any) -> Any:
        raise AssertionError

    def choose(self, request: Any) -> Any:
        raise AssertionError

    def pass_time(self, request: Wait) -> Waited:
        self.t_s = max(self.t_s, request.until_s)
        return Waited(self.t_s, enough=self.t_s >= self.enough_s)


def watched(bench: Any, **asked: Any) -> tuple[WarmupWatched, list[Event]]:
    settings = WatchSettings(**({"oscillators": ("Heron",)} | asked))
    events: list[Event] = []
    result = run(
        warmup_watch(settings), bench, [events.append], name="warm-up watch", settings=settings
    )
    return result, events


def warming(t_s: float) -> float:
    """Ready after 600 s · ln(20 · (1 − exp(−3)) / 1) = 1767 s, by hand."""
    noise = 0.05 * math.sin(1.7 * t_s) * math.cos(0.31 * t_s)
    return 20.0 * math.exp(-t_s / 600.0) + noise


def told(events: list[Event], finding: str) -> list[str]:
    tells = [event.what for event in events if isinstance(event.what, Tell)]
    return [tell.sentence for tell in tells if tell.finding == finding]


def test_it_ends_when_the_oscillator_is_ready() -> None:
    result, events = watched(Written(warming))
    (last,) = result.forecasts
    assert last.readiness is Readiness.READY
    assert 1200.0 < result.history.t_s[-1] < 3000.0
    forecasts = [event.what for event in events if isinstance(event.what, ForecastMade)]
    assert forecasts[0].readiness is Readiness.TOO_EARLY
    assert forecasts[0].wander_cents is None
    assert any(one.readiness is Readiness.WARMING for one in forecasts)
    # One note for all of it, a reading every ten seconds.
    assert [event.kind for event in events].count("play note") == 1
    assert set(np.round(np.diff(result.history.t_s))) == {10.0}


def test_it_ends_after_the_time_set() -> None:
    result, _ = watched(Written(warming), until_ready=False, longest_s=300.0, every_s=20.0)
    assert result.history.t_s[-1] == 300.0
    assert len(result.forecasts) == 1


def test_the_person_can_end_it() -> None:
    result, events = watched(Written(warming, enough_s=200.0))
    assert result.history.t_s[-1] == 190.0
    assert events[-1].kind == "closed"
    assert result.forecasts[0].watched_s == 190.0


def test_two_notes_take_turns_and_are_told_apart() -> None:
    bench = Written(warming, enough_s=400.0)
    result, _ = watched(bench, notes=(36.0, 84.0))
    assert bench.played[:4] == [36.0, 84.0, 36.0, 84.0]
    assert result.history.note is not None
    assert set(result.history.note.tolist()) == {36.0, 84.0}
    assert [one.note for one in result.forecasts] == [36.0, 84.0]


def test_a_reading_that_is_not_there_is_said_once_and_leaves_a_hole() -> None:
    def faint(t_s: float) -> float | None:
        return None if 100.0 <= t_s < 200.0 else warming(t_s)

    result, events = watched(Written(faint, enough_s=400.0))
    assert np.isnan(result.history.traces[0].cents).sum() == 10
    assert len(told(events, "no reading")) == 1


def test_whoever_is_retuned_begins_anew() -> None:
    def bumped(t_s: float) -> float:
        return warming(t_s) + (80.0 if t_s >= 300.0 else 0.0)

    result, events = watched(Written(bumped, enough_s=700.0))
    assert len(told(events, "begun anew")) == 1
    cents = result.history.traces[0].cents
    assert np.isnan(cents[:30]).all()
    assert np.isfinite(cents[30:]).all()


def test_one_stray_reading_does_not_begin_anew() -> None:
    def stray(t_s: float) -> float:
        return warming(t_s) + (80.0 if t_s == 300.0 else 0.0)

    result, events = watched(Written(stray, enough_s=500.0))
    assert not told(events, "begun anew")
    assert len(told(events, "left out")) == 1
    assert np.flatnonzero(np.isnan(result.history.traces[0].cents)).tolist() == [30]


def test_silence_all_along_is_refused() -> None:
    with pytest.raises(InputError, match="No oscillator gave a reading"):
        watched(Written(lambda t_s: None), longest_s=200.0)


def test_a_slow_reading_is_not_made_up_for() -> None:
    class Slow(Written):
        def listen(self, request: Any) -> ReadingsTaken:
            self.t_s += 25.0
            return super().listen(request)

    result, _ = watched(Slow(warming), every_s=10.0, longest_s=300.0)
    assert min(np.diff(result.history.t_s)) >= 24.9


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"oscillators": ()}, "No oscillator"),
        ({"notes": ()}, "one note"),
        ({"notes": (60.0, 60.0)}, "two different"),
        ({"notes": (36.0, 60.0, 84.0)}, "one note"),
        ({"every_s": 0.0}, "every 0 s"),
        ({"longest_s": 5.0}, "cannot"),
        ({"tolerance_cents": 0.0}, "more than zero"),
        ({"horizon_s": math.nan}, "more than zero"),
    ],
)
def test_what_cannot_be_watched(asked: Any, said: str) -> None:
    with pytest.raises(InputError, match=said):
        WatchSettings(**({"oscillators": ("Heron",)} | asked))


def test_the_practice_rig_is_watched_and_can_be_gone_on_from() -> None:
    names = ("Heron", "Dunlin")
    settings = WatchSettings(names, until_ready=False, longest_s=900.0, every_s=30.0)
    rig = theatre_rig(on_for_s=0.0)
    events: list[Event] = []
    whole = run(
        warmup_watch(settings), RigBench(rig), [events.append], name="watch", settings=settings
    )
    assert whole.history.temperature_c is not None
    assert abs(float(np.mean(whole.history.temperature_c)) - 25.0) < 1.0
    plain = [json.loads(json.dumps(event.to_dict())) for event in events]
    back = [Event.from_dict(one) for one in plain]
    assert back == events
    # Cut off anywhere, it waits for the very answer that comes next.
    half = len(events) // 2
    request, _ = replay(warmup_watch(settings), back[:half])
    assert request is not None
    request, result = replay(warmup_watch(settings), back)
    assert request is None
    assert result is not None
    assert result.forecasts == whole.forecasts
    assert {one.oscillator for one in whole.forecasts} == set(names)
