from typing import Any

import pytest

from pitchwright.bench.runner import announce, run
from pitchwright.bench.stop import Stop, StopAsked
from pitchwright.errors import InputError
from pitchwright.procedures.events import Started
from pitchwright.procedures.requests import (
    Ask,
    Choice,
    Chosen,
    NotePlayed,
    PlayNote,
    Tell,
    Wait,
    Waited,
    WatchTurn,
)
from pitchwright.procedures.worked_out import RouteSolved

PLAY = PlayNote(60.0, 3.0, "Play C4.")
ASK = Ask("go on", "Go on?", (Choice("yes", "Yes"), Choice("no", "No")), "yes")


class Bench:
    def __init__(self, stop: Any = None) -> None:
        self.stop = stop

    def now_s(self) -> Any:
        return 7.0

    def play(self, request: Any) -> Any:
        if self.stop:
            raise self.stop
        return NotePlayed(7.0)

    def listen(self, request: Any) -> Any:
        raise AssertionError

    def watch(self, request: WatchTurn, live: Any) -> Any:
        raise AssertionError

    def choose(self, request: Any) -> Any:
        return Chosen(request.default)

    def pass_time(self, request: Any) -> Any:
        return Waited(request.until_s)


def procedure() -> Any:
    played = yield PLAY
    yield Tell("hello", "Hello.")
    chosen = yield ASK
    return played, chosen


def test_all_that_happens_is_an_event() -> None:
    events: list[Any] = []
    result = run(procedure(), Bench(), [events.append], name="x", settings={"a": 1})
    assert result == (NotePlayed(7.0), Chosen("yes"))
    kinds = [event.kind for event in events]
    assert kinds == ["started", "play note", "note played", "tell", "ask", "chosen", "closed"]
    assert [event.number for event in events] == list(range(1, 8))


@pytest.mark.parametrize("stop", [KeyboardInterrupt(), InputError("The cable fell out")])
def test_an_interruption_is_recorded_and_can_be_gone_on_from(stop: Any) -> None:
    events: list[Any] = []
    with pytest.raises(type(stop)):
        run(procedure(), Bench(stop), [events.append], name="x", settings=None)
    assert events[-1].kind == "interrupted"
    later: list[Any] = []
    result = run(procedure(), Bench(), [later.append], name="x", settings=None, earlier=events)
    assert result == (NotePlayed(7.0), Chosen("yes"))
    assert later[0].what.resumed
    assert later[0].number == events[-1].number + 1
    whole = [*events, *later]
    assert run(procedure(), Bench(), name="x", settings=None, earlier=whole) == result


def test_a_stop_is_seen_before_the_next_request_and_gone_on_from() -> None:
    stop = Stop()
    events: list[Any] = []

    def asks_after_the_note(event: Any) -> None:
        events.append(event)
        if event.kind == "note played":
            stop.ask()

    with pytest.raises(StopAsked):
        run(procedure(), Bench(), [asks_after_the_note], name="x", settings=None, stop=stop)
    assert [event.kind for event in events][-2:] == ["note played", "interrupted"]
    later: list[Any] = []
    run(procedure(), Bench(), [later.append], name="x", settings=None, earlier=events)
    assert [event.kind for event in later] == ["started", "tell", "ask", "chosen", "closed"]


def test_time_is_passed_by_the_bench() -> None:
    def waiting() -> Any:
        return (yield Wait(90.0, "Until the next reading."))

    events: list[Any] = []
    assert run(waiting(), Bench(), [events.append], name="x", settings={}) == Waited(90.0)
    assert [event.kind for event in events] == ["started", "wait", "waited", "closed"]


def test_what_was_worked_out_without_a_bench_is_told_like_a_procedure() -> None:
    events: list[Any] = []
    outcome = RouteSolved("Pit band", (), (), (), (), ("No cable moves another.",))
    announce(outcome, [events.append], name="route", settings={"notes": [48, 60]})
    assert [event.kind for event in events] == ["started", "route solved", "closed"]
    assert [event.number for event in events] == [1, 2, 3]
    assert events[0].what == Started("route", {"notes": [48, 60]})
    assert events[1].what == outcome
