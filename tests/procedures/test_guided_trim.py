from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from pitchwright.bench.practice import PracticeBench, trimmers_of
from pitchwright.bench.runner import run
from pitchwright.errors import InputError
from pitchwright.practice.hands import Habits, Hand, Turned
from pitchwright.practice.scenario import theatre_rig
from pitchwright.procedures import TrimSettings, guided_trim, replay
from pitchwright.procedures.requests import (
    Chosen,
    Ended,
    Heard,
    Noted,
    NotePlayed,
    ReadingsTaken,
    TrackPoint,
    TurnWatched,
)
from pitchwright.tracking.point import Point
from pitchwright.tracking.target import TargetCurve
from pitchwright.trim import Happened, Standing, Trimmer, TrimmerKind
from pitchwright.trim.kinds import KINDS

RIG = theatre_rig()
NAMES = {voice.oscillator.name: voice.oscillator for voice in RIG.voices}


def trim(
    name: Any, *, seed: Any = 3, habits: Any = None, oscillator: Any = None, **settings: Any
) -> Any:
    oscillator = oscillator or NAMES[name]
    rng = np.random.default_rng(seed)
    hand = Hand(rng, habits or Habits())
    bench = PracticeBench(oscillator, RIG.source("Loft"), hand, rng)
    settings.setdefault("trimmers", trimmers_of(oscillator))
    asked = TrimSettings(name, **settings)
    events: list[Any] = []
    result = run(guided_trim(asked), bench, [events.append], name="guided trim", settings=asked)
    return result, events, bench, hand


def told(events: Any) -> Any:
    return [event.what.finding for event in events if event.kind == "tell"]


@pytest.mark.parametrize("name", ["Heron", "Wren", "Plover", "Bittern"])
def test_brings_the_practice_oscillators_in_tune(name: Any) -> None:
    result, _, bench, _ = trim(name)
    assert result.verdict.standing is Standing.IN_TUNE
    assert result.visits <= 4
    notes = np.arange(24.0, 85.0, 6.0)
    cv_v = np.array([bench.source.cv_v(note) for note in notes])
    true = 1200.0 * np.log2(
        bench.oscillator.f_hz(cv_v, bench.t_s) / (440.0 * 2.0 ** ((notes - 69.0) / 12.0))
    )
    assert np.abs(true).max() <= 1.0


def test_says_why_it_cannot_and_what_would_help() -> None:
    verdict = trim("Dunlin", tolerance_cents=0.75)[0].verdict
    assert verdict.standing is Standing.CANNOT
    assert any("high end" in why for why in verdict.why)
    assert any("high-end trimmer" in way for way in verdict.would_help)
    assert any("narrower range" in way.lower() for way in verdict.would_help)


def test_learns_the_pivot_in_hertz_and_starts_knowing_next_time() -> None:
    result = trim("Wren")[0]
    known = result.known["scale trimmer"]
    assert known.pivot_hz == pytest.approx(32.703 * 2.0**3.5, rel=0.06)
    again = tuple(
        Trimmer(t.name, t.trimmer_kind, known=result.known.get(t.name))
        for t in trimmers_of(NAMES["Wren"])
    )
    _, events, _, _ = trim("Wren", seed=8, trimmers=again)
    assert not any(event.kind == "watch turn" and event.what.probe for event in events)


@pytest.mark.parametrize(
    ("habits", "finding"),
    [
        (Habits(wrong_trimmer=1.0, most_slips=1), Happened.WRONG_TRIMMER),
        (Habits(wrong_way=1.0), Happened.WRONG_WAY),
        (Habits(bump=1.0, most_slips=1), Happened.BUMPED),
    ],
)
def test_slips_are_recognised_and_survived(habits: Any, finding: Any) -> None:
    result, events, _, hand = trim("Bittern", habits=habits)
    assert finding in told(events)
    assert hand.slips
    assert result.verdict.standing is Standing.IN_TUNE


class Hasty:
    """Turns all the way before the watch's first reading; every other turn goes half as far again.

    The readings then begin where the hand already was, and nothing of the way is seen.
    """

    def __init__(self) -> None:
        self._gains: dict[str, float] = {}
        self._turns = 0

    def take_up(self, trimmer: str, within_reach: tuple[str, ...], asked_cents: float) -> str:
        del within_reach, asked_cents
        return trimmer

    def turn(self, work: Any, *, asked: str, aim_cents: float, **rest: Any) -> Turned:
        del rest
        self._turns += 1
        before = work.live_cents()
        gain = self._gains.get(asked)
        if gain is None:
            work.turn(asked, 0.1)
            gain = (work.live_cents() - before) / 0.1
            self._gains[asked] = gain
            work.turn(asked, -0.1)
        turns = (aim_cents - before) / gain * (1.5 if self._turns % 2 else 1.0)
        work.turn(asked, turns)
        track = []
        for _ in range(20):
            work.wait(0.05)
            track.append((work.now_s(), work.live_cents()))
        return Turned(turns, tuple(track), "there")


@pytest.mark.parametrize("name", ["Heron", "Wren", "Plover", "Bittern"])
def test_a_hand_quicker_than_the_first_reading_is_neither_drift_nor_a_slip(name: Any) -> None:
    rng = np.random.default_rng(5)
    bench = PracticeBench(NAMES[name], RIG.source("Loft"), Hasty(), rng)
    asked = TrimSettings(name, trimmers_of(NAMES[name]))
    events: list[Any] = []
    result = run(guided_trim(asked), bench, [events.append], name="guided trim", settings=asked)
    assert result.verdict.standing is Standing.IN_TUNE
    assert result.visits <= 4
    assert not {Happened.WRONG_WAY, Happened.BUMPED} & set(told(events))


def test_replaying_the_events_gives_the_same_state() -> None:
    result, events, _, _ = trim("Plover")
    settings = TrimSettings("Plover", trimmers_of(NAMES["Plover"]))
    assert replay(guided_trim(settings), events) == (None, result)


def test_goes_on_after_an_interruption_at_any_event() -> None:
    """Cut anywhere, the events lead to the very request that was being answered or came next."""
    happened = [e for e in trim("Bittern")[1] if e.kind not in ("turning", "closed")]
    settings = TrimSettings("Bittern", trimmers_of(NAMES["Bittern"]))
    for cut in range(1, len(happened)):
        pending, result = replay(guided_trim(settings), happened[:cut])
        assert result is None
        asked = getattr(pending, "outcome", pending)
        following, before = happened[cut].what, happened[cut - 1].what
        assert asked in (following, before)


def test_relative_to_its_own_middle_c_leaves_base_alone() -> None:
    result, events, _, _ = trim("Bittern", own_middle=True)
    assert result.verdict.standing is Standing.IN_TUNE
    turned = {event.what.trimmer for event in events if event.kind == "watch turn"}
    assert turned == {"scale trimmer"}


def test_follows_a_table() -> None:
    table = TargetCurve.table({24.0: -4.0, 84.0: 6.0})
    result, _, bench, _ = trim("Plover", target=table, tolerance_cents=1.2)
    assert result.verdict.standing is Standing.IN_TUNE
    top_v = np.array([bench.source.cv_v(84)])
    f_hz = float(bench.oscillator.f_hz(top_v, bench.t_s)[0])
    assert 1200.0 * np.log2(f_hz / (440.0 * 2.0 ** (15 / 12))) == pytest.approx(6.0, abs=1.2)


def test_extends_the_reach_once_the_range_holds() -> None:
    result, events, _, _ = trim("Heron", low=36.0, high=72.0, wider=(24.0, 84.0))
    assert "extend the reach" in told(events)
    assert result.verdict.standing is Standing.IN_TUNE


def test_an_inside_trimmer_comes_with_its_caution() -> None:
    inside = tuple(
        Trimmer(t.name, t.trimmer_kind, inside=t.trimmer_kind == TrimmerKind.SCALE)
        for t in trimmers_of(NAMES["Bittern"])
    )
    _, events, _, _ = trim("Bittern", trimmers=inside)
    cautions = [e.what.caution for e in events if e.kind == "watch turn" and e.what.caution]
    assert cautions
    assert "power off" in cautions[0]
    assert "ribbon" in cautions[0]


def test_what_may_not_be_touched_is_not() -> None:
    only = tuple(
        Trimmer(t.name, t.trimmer_kind, may_touch=t.trimmer_kind.is_base)
        for t in trimmers_of(NAMES["Bittern"])
    )
    result, events, _, _ = trim("Bittern", trimmers=only)
    assert {e.what.trimmer for e in events if e.kind == "watch turn"} <= {"coarse base trimmer"}
    assert result.verdict.standing is Standing.CANNOT
    assert any("scale" in why for why in result.verdict.why)


def with_trimmer(kind: TrimmerKind, **changed: Any) -> Any:
    """Bittern with one of its trimmers made worse."""
    bittern = NAMES["Bittern"]
    screws = tuple(
        replace(screw, **changed) if screw.kind == kind else screw for screw in bittern.trimmers
    )
    return replace(bittern, trimmers=screws)


def test_a_trimmer_at_its_end_is_said_and_what_is_left_is_done() -> None:
    short = with_trimmer(TrimmerKind.SCALE, travel_turns=1.6, screw_turns=0.8, wiper_turns=0.8)
    result, events, _, _ = trim("Bittern", oscillator=short)
    assert Happened.AT_END in told(events)
    assert result.verdict.standing is Standing.CANNOT
    assert any("at its end" in why for why in result.verdict.why)


def test_a_trimmer_that_moves_in_steps_is_said_and_its_nearer_side_taken() -> None:
    coarse = with_trimmer(TrimmerKind.BASE_COARSE, step_turns=0.01)
    result, events, _, _ = trim("Bittern", oscillator=coarse)
    assert Happened.TOO_COARSE in told(events)
    said = next(
        event.what.sentence
        for event in events
        if event.kind == "tell" and event.what.finding == Happened.TOO_COARSE
    )
    assert "steps of 3.0 cents" in said
    assert result.verdict.greatest_cents < 2.0
    # Next time its steps are known.
    assert result.known["coarse base trimmer"].resolution_cents == pytest.approx(3.0, abs=0.1)
    again = tuple(
        Trimmer(t.name, t.trimmer_kind, known=result.known.get(t.name)) for t in trimmers_of(coarse)
    )
    assert Happened.TOO_COARSE not in told(trim("Bittern", oscillator=coarse, trimmers=again)[1])


def test_a_resolution_that_is_known_is_not_asked_to_be_bettered() -> None:
    coarse = with_trimmer(TrimmerKind.BASE_COARSE, step_turns=0.01)
    known = tuple(
        Trimmer(t.name, t.trimmer_kind, resolution_cents=3.0 if t.trimmer_kind.is_base else 0.0)
        for t in trimmers_of(coarse)
    )
    _, events, _, _ = trim("Bittern", oscillator=coarse, trimmers=known)
    windows = [
        event.what.window_cents
        for event in events
        if event.kind == "watch turn" and "base" in event.what.trimmer
    ]
    assert windows
    assert min(windows) >= 1.5
    assert Happened.TOO_COARSE not in told(events)


def test_follows_another_oscillators_measured_curve() -> None:
    notes = np.arange(24.0, 85.0, 6.0)
    off = 3.0 + 0.05 * (notes - 60.0)
    leader = [
        Point(note, (note - 24.0) / 12.0, 440.0 * 2.0 ** ((note - 69.0) / 12.0 + c / 1200.0), 0.05)
        for note, c in zip(notes.tolist(), off.tolist(), strict=True)
    ]
    target = TargetCurve.following(leader, "Heron", same_take=False)
    result, _, bench, _ = trim("Plover", target=target, tolerance_cents=1.2)
    assert result.verdict.standing is Standing.IN_TUNE
    cv_v = np.array([bench.source.cv_v(note) for note in notes])
    true = 1200.0 * np.log2(
        bench.oscillator.f_hz(cv_v, bench.t_s) / (440.0 * 2.0 ** ((notes - 69.0) / 12.0))
    )
    assert np.abs(true - off).max() <= 1.2


def test_a_flat_target_at_another_a4() -> None:
    result, _, bench, _ = trim("Bittern", target=TargetCurve.flat(442.0))
    assert result.verdict.standing is Standing.IN_TUNE
    f_hz = float(bench.oscillator.f_hz(np.array([bench.source.cv_v(69.0)]), bench.t_s)[0])
    assert 1200.0 * np.log2(f_hz / 442.0) == pytest.approx(0.0, abs=1.0)


def test_drift_while_it_was_interrupted_is_no_fault() -> None:
    """Stopped with the screwdriver in; meanwhile every note has gone 3 cents sharp."""
    settings = TrimSettings("Bittern", trimmers_of(NAMES["Bittern"]))
    whole = trim("Bittern")[1]
    turns = [k for k, event in enumerate(whole) if event.kind == "watch turn"]
    kept = whole[: turns[1] + 1]
    rng = np.random.default_rng(4)
    bench = PracticeBench(
        NAMES["Bittern"], RIG.source("Loft"), Hand(rng), rng, t_s=kept[-1].t_s + 300.0
    )
    for event in kept:
        if event.kind == "turn watched":
            bench.turn("scale trimmer", event.what.turned)
    bench.bump(3.0)
    events: list[Any] = []
    result = run(
        guided_trim(settings),
        bench,
        [events.append],
        name="guided trim",
        settings=settings,
        earlier=kept,
    )
    assert result.verdict.standing is Standing.IN_TUNE
    assert Happened.WRONG_TRIMMER not in told(events)


BASE = (Trimmer("base", TrimmerKind.BASE_FINE),)


@pytest.mark.parametrize(
    "settings",
    [
        {"trimmers": ()},
        {"trimmers": (*BASE, *BASE)},
        {"trimmers": BASE, "low": 60.0, "high": 60.0},
        {"trimmers": BASE, "low": 60.0, "high": 66.0},
        {"trimmers": BASE, "tolerance_cents": 0.0},
        {"trimmers": BASE, "target": TargetCurve.table({36.0: 0.0, 48.0: 0.0})},
        {"trimmers": BASE, "wider": (36.0, 84.0)},
    ],
)
def test_bad_settings_are_refused_with_a_sentence(settings: Any) -> None:
    with pytest.raises(InputError):
        TrimSettings("Heron", **settings)


def answer_all(procedure: Any, make: Any) -> Any:
    request = next(procedure)
    for k in range(200):
        request = procedure.send(make(request, k))


def readings(f_hz: Any, u_cents: Any = 0.03) -> Any:
    def make(request: Any, k: Any) -> Any:
        if request.kind == "play note":
            return NotePlayed(float(k))
        return ReadingsTaken((Heard("Heron", float(k), f_hz, u_cents),))

    return make


def test_a_range_where_nothing_sounds() -> None:
    with pytest.raises(InputError, match="no pitch at any note"):
        answer_all(guided_trim(TrimSettings("Heron", BASE)), readings(None))


def test_a_tolerance_below_what_readings_resolve() -> None:
    with pytest.raises(InputError, match="less than the readings resolve"):
        answer_all(guided_trim(TrimSettings("Heron", BASE)), readings(100.0, 0.7))


@pytest.mark.parametrize("answer", [Chosen("x"), ReadingsTaken(())])
def test_contradictory_answers(answer: Any) -> None:
    with pytest.raises(InputError):
        answer_all(guided_trim(TrimSettings("Heron", BASE)), lambda *_: answer)


def senseless(request: Any, t_s: float, note: float, rng: np.random.Generator) -> Any:
    """An answer of the right kind with any content at all."""
    if request.kind == "play note":
        return NotePlayed(t_s)
    if request.kind == "take readings":
        f_hz = 440.0 * 2.0 ** ((note - 69.0) / 12.0 + rng.normal(0.0, rng.choice([1, 300])) / 1200)
        doubts = ("odd",) if rng.random() < 0.02 else ()
        silent = rng.random() < 0.02
        return ReadingsTaken((Heard("x", t_s, None if silent else f_hz, 0.03, doubts),))
    if request.kind == "watch turn":
        near = [request.aim_cents, request.start_cents, rng.normal(0.0, 100.0)]
        cents = float(np.clip(rng.choice(near), -5000.0, 5000.0))
        track = np.linspace(request.start_cents, cents, int(rng.integers(0, 30)))
        return TurnWatched(
            Ended(rng.choice(list(Ended))),
            Heard("x", t_s, request.tuned_hz * 2.0 ** (cents / 1200.0), 0.03),
            tuple(TrackPoint(t_s, float(at)) for at in track),
            None if rng.random() < 0.5 else float(rng.normal()),
        )
    return Noted()


@pytest.mark.parametrize("seed", range(25))
def test_senseless_answers_end_in_a_verdict_or_a_sentence(seed: int) -> None:
    rng = np.random.default_rng([seed, 77])
    trimmers = tuple(Trimmer(kind, kind) for kind in map(TrimmerKind, KINDS) if rng.random() < 0.6)
    wider = (24.0, 96.0) if rng.random() < 0.3 else None
    own = bool(rng.random() < 0.3)
    settings = TrimSettings("x", trimmers or BASE, own_middle=own, wider=wider)
    procedure, t_s, note = guided_trim(settings), 0.0, 60.0
    request = next(procedure)
    result = None
    try:
        for _ in range(3000):
            t_s += rng.uniform(0.0, 40.0)
            note = getattr(request, "note", note)
            request = procedure.send(senseless(request, t_s, note, rng))
    except StopIteration as stop:
        result = stop.value.verdict
    except InputError as error:
        result = error.sentence
    assert result
