import json
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitchwright.errors import InputError
from pitchwright.procedures.events import Closed, Event, Started, replay
from pitchwright.procedures.requests import (
    Ended,
    Heard,
    NotePlayed,
    PlayNote,
    ReadingsTaken,
    TakeReadings,
    TrackPoint,
    TurnWatched,
)

number = st.floats(allow_nan=False)
heard = st.builds(
    Heard,
    st.text(max_size=5),
    number,
    st.none() | number,
    number,
    st.lists(st.text(max_size=5), max_size=2).map(tuple),
)
point = st.builds(TrackPoint, number, number)
what = st.one_of(
    st.builds(PlayNote, number, number, st.text(max_size=9)),
    st.builds(NotePlayed, number, st.none() | number),
    st.lists(heard, max_size=2).map(lambda some: ReadingsTaken(tuple(some))),
    st.builds(
        TurnWatched,
        st.sampled_from(Ended),
        heard,
        st.lists(point, max_size=3).map(tuple),
        st.none() | number,
    ),
    st.builds(Started, st.just("survey"), st.just({"notes": [24.0]}), st.booleans()),
)


@given(what)
def test_events_survive_json(happening: Any) -> None:
    event = Event(3, 1.5, "2026-01-02T03:04:05.678+00:00", happening)
    assert Event.from_dict(json.loads(json.dumps(event.to_dict()))) == event
    assert event.to_dict()["what"]["kind"] == event.kind


def test_what_arrays_leave_behind_is_written_as_plain_values() -> None:
    settings = {"notes": [24.0]}
    resumed: Any = np.float64(2.0) > np.float64(1.0)
    event = Event(
        int(np.int64(3)), 1.5, "2026-01-02T03:04:05.678+00:00", Started("x", settings, resumed)
    )
    plain = json.loads(json.dumps(event.to_dict()))
    assert plain["what"]["resumed"] is True
    assert Event.from_dict(plain) == event


@pytest.mark.parametrize(
    "broken",
    [
        {},
        [],
        {"number": 1, "t_s": 0.0, "at": "", "what": {"kind": "no such thing"}},
        {"number": "1", "t_s": 0.0, "at": "", "what": {"kind": "closed", "procedure": "x"}},
        {"number": 1, "t_s": 0.0, "at": "", "what": {"kind": "closed"}},
        {"number": 1, "t_s": 0.0, "at": "", "what": {"kind": "closed", "procedure": "x", "y": 1}},
    ],
)
def test_what_is_no_event_is_refused(broken: Any) -> None:
    with pytest.raises(InputError):
        Event.from_dict(broken)


def two_notes() -> Any:
    first = yield PlayNote(60.0, 3.0, "Play C4.")
    second = yield TakeReadings(60.0, 3.0, ("Heron",), 1.0, "Listening.")
    return first, second


def test_replay_stops_where_the_events_do() -> None:
    play = PlayNote(60.0, 3.0, "Play C4.")
    events = [Event(1, 0.0, "", play), Event(2, 0.0, "", NotePlayed(1.0))]
    pending, result = replay(two_notes(), events)
    assert isinstance(pending, TakeReadings)
    assert result is None
    asked_again = [*events, Event(3, 0.0, "", pending), Event(4, 0.0, "", pending)]
    assert replay(two_notes(), asked_again)[0] == pending
    done = [*asked_again, Event(5, 0.0, "", ReadingsTaken(())), Event(6, 0.0, "", Closed("x"))]
    assert replay(two_notes(), done) == (None, (NotePlayed(1.0), ReadingsTaken(())))


def test_events_of_another_procedure_are_refused() -> None:
    with pytest.raises(InputError, match="another procedure"):
        replay(two_notes(), [Event(1, 0.0, "", NotePlayed(1.0)), Event(2, 0.0, "", Closed("x"))])
        replay(two_notes(), [Event(1, 0.0, "", ReadingsTaken(()))])
