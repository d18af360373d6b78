"""Whatever is measured is written down, and nothing stands in the way of measuring."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from pitchwright.bench.practice import PracticeBench, trimmers_of
from pitchwright.bench.runner import run
from pitchwright.errors import InputError
from pitchwright.logbook.care import check
from pitchwright.logbook.exchange import import_lines
from pitchwright.logbook.facts import SurveyRecorded
from pitchwright.logbook.history import (
    described,
    find_instrument,
    history,
    instruments,
    known_trimmers,
)
from pitchwright.logbook.store import Logbook
from pitchwright.practice.hands import Hand
from pitchwright.practice.scenario import theatre_rig
from pitchwright.procedures.circumstances import Conditions, SurveyState
from pitchwright.procedures.events import Event, Turning
from pitchwright.procedures.guided_trim import guided_trim
from pitchwright.procedures.requests import ReadingsTaken, WatchTurn
from pitchwright.procedures.settings import TrimSettings
from pitchwright.procedures.survey import survey
from pitchwright.tracking import survey_oscillator
from pitchwright.upkeep import Recorder, give_up, stopped_trims, trimmers_as_known

Subscriber = Callable[[Event], None]


def heron(t_s: float = 0.0) -> tuple[TrimSettings, PracticeBench]:
    rig = theatre_rig()
    (voice,) = rig.only("Heron").voices
    rng = np.random.default_rng(1)
    bench = PracticeBench(voice.oscillator, rig.source("Loft"), Hand(rng), rng, t_s=t_s)
    under = Conditions(temperature_c=21.5)
    return TrimSettings("Heron", trimmers_of(voice.oscillator), conditions=under), bench


def trim(recorder: Recorder, *more: Subscriber) -> str:
    settings, bench = heron()
    recorder.instrument("Heron", trimmers=settings.trimmers, fed_by="output 2")
    record = recorder.follow(["Heron"])
    run(guided_trim(settings), bench, (record, *more), name="guided trim", settings=settings)
    wanted = settings.as_left
    left = recorder.follow(["Heron"], of_run=record.run)
    run(survey(wanted), bench, (left,), name="survey", settings=wanted)
    return record.run


def test_a_trim_is_written_down_from_as_found_to_as_left(tmp_path: Path) -> None:
    path = str(tmp_path / "logbook.sqlite")
    seen: list[Event] = []
    with Recorder(path) as recorder:
        trimmed = trim(recorder, seen.append)
    with Logbook(path) as logbook:
        assert check(logbook) == ()
        known = find_instrument(logbook, "Heron")
        assert (known.fed_by, known.surveys) == ("output 2", 2)
        found, left = history(logbook, known.uid)
        assert (found.state, left.state) == (SurveyState.AS_FOUND, SurveyState.AS_LEFT)
        assert found.run == left.run == trimmed
        assert found.temperature_c == 21.5
        assert found.scale_cents_per_oct is not None
        assert left.scale_cents_per_oct is not None
        assert abs(left.scale_cents_per_oct) < abs(found.scale_cents_per_oct)
        written = [e.what for e in logbook.entries(run=trimmed)]
        events = [what for what in written if not isinstance(what, SurveyRecorded)]
        assert events == [event.what for event in seen if not isinstance(event.what, Turning)]
        assert any(isinstance(event.what, Turning) for event in seen)
        assert stopped_trims(logbook) == ()


def test_the_recorded_survey_can_be_made_again(tmp_path: Path) -> None:
    path = str(tmp_path / "logbook.sqlite")
    with Recorder(path) as recorder:
        trim(recorder)
    with Logbook(path) as logbook:
        row = history(logbook, find_instrument(logbook, "Heron").uid)[0]
        (recorded,) = [e.what for e in logbook.entries() if e.uid == row.uid]
    assert isinstance(recorded, SurveyRecorded)
    again = survey_oscillator("Heron", recorded.points, target=recorded.target, tolerances=(1.0,))
    assert again.model.scale_cents_per_oct == pytest.approx(row.scale_cents_per_oct)
    assert again.reaches[0].low == row.reach_low


def test_the_second_trim_knows_the_trimmers(tmp_path: Path) -> None:
    path = str(tmp_path / "logbook.sqlite")
    with Recorder(path) as recorder:
        trim(recorder)
    settings, _ = heron()
    with Logbook(path) as logbook:
        learned = known_trimmers(logbook, find_instrument(logbook, "Heron").uid)
        knowing = trimmers_as_known(logbook, "heron", settings.trimmers)
    assert learned
    for trimmer in knowing:
        assert (trimmer.known is not None) == (trimmer.name in learned)
    scale = next(one for one in knowing if one.trimmer_kind.has_pivot)
    assert scale.known is not None
    assert scale.known.effect_per_turn is not None


class PulledPlugError(Exception):
    """Somebody pulled the plug."""


def stopped_at_second_turn(recorder: Recorder) -> None:
    turns = 0

    def stop(event: Event) -> None:
        nonlocal turns
        turns += isinstance(event.what, WatchTurn)
        if turns == 2:
            raise PulledPlugError

    with pytest.raises(PulledPlugError):
        trim(recorder, stop)


def test_what_was_stopped_is_offered_and_goes_on(tmp_path: Path) -> None:
    path = str(tmp_path / "logbook.sqlite")
    with Recorder(path) as recorder:
        stopped_at_second_turn(recorder)
    with Recorder(path) as recorder:
        assert recorder.logbook is not None
        (stopped,) = stopped_trims(recorder.logbook, "HERON")
        assert stopped.settings == heron()[0]
        _, bench = heron(stopped.events[-1].t_s)
        record = recorder.follow(["Heron"], run=stopped.run)
        run(
            guided_trim(stopped.settings),
            bench,
            (record,),
            name="guided trim",
            settings=stopped.settings,
            earlier=stopped.events,
        )
        assert stopped_trims(recorder.logbook) == ()
        states = [row.state for row in history(recorder.logbook, recorder.instrument("Heron"))]
        assert states == [SurveyState.AS_FOUND]
        assert check(recorder.logbook) == ()


def test_a_trim_stopped_in_its_first_survey_still_has_that_survey_as_found(tmp_path: Path) -> None:
    path = str(tmp_path / "logbook.sqlite")
    settings, bench = heron()

    def stop(event: Event) -> None:
        if isinstance(event.what, ReadingsTaken) and event.number > 12:
            raise PulledPlugError

    with Recorder(path) as recorder:
        record = recorder.follow(["Heron"])
        with pytest.raises(PulledPlugError):
            run(guided_trim(settings), bench, (record, stop), name="guided trim", settings=settings)
        assert recorder.logbook is not None
        assert history(recorder.logbook, recorder.instrument("Heron")) == ()
    with Recorder(path) as recorder:
        assert recorder.logbook is not None
        (stopped,) = stopped_trims(recorder.logbook)
        _, bench = heron(stopped.events[-1].t_s)
        run(
            guided_trim(stopped.settings),
            bench,
            (recorder.follow(["Heron"], run=stopped.run),),
            name="guided trim",
            settings=stopped.settings,
            earlier=stopped.events,
        )
        (row,) = history(recorder.logbook, recorder.instrument("Heron"))
        assert row.state is SurveyState.AS_FOUND
        assert row.temperature_c == 21.5


def test_what_is_given_up_is_offered_no_longer(tmp_path: Path) -> None:
    with Recorder(str(tmp_path / "logbook.sqlite")) as recorder:
        stopped_at_second_turn(recorder)
        assert recorder.logbook is not None
        (stopped,) = stopped_trims(recorder.logbook)
        give_up(recorder.logbook, stopped.run, "begun afresh")
        assert stopped_trims(recorder.logbook) == ()
        assert len(history(recorder.logbook, recorder.instrument("Heron"))) == 1
        assert check(recorder.logbook) == ()


def test_practice_has_a_logbook_of_its_own(tmp_path: Path) -> None:
    real = tmp_path / "logbook.sqlite"
    with Recorder(str(real), practice=True) as recorder:
        trim(recorder)
        assert recorder.where == str(tmp_path / "logbook-practice.sqlite")
    assert not real.exists()


def test_nothing_is_written_where_nothing_is_wanted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    with Recorder("none") as recorder:
        trim(recorder)
        assert recorder.where == ""
    assert list(tmp_path.iterdir()) == []


def test_without_a_logbook_the_trim_ends_and_nothing_is_lost(tmp_path: Path) -> None:
    foreign = tmp_path / "logbook.sqlite"
    foreign.write_text("a shopping list, not a database\n")
    said: list[str] = []
    with Recorder(str(foreign), warn=said.append, aside=tmp_path) as recorder:
        trim(recorder)
        aside = Path(recorder.where)
    assert foreign.read_text() == "a shopping list, not a database\n"
    assert len(said) == 1
    assert "not a logbook" in said[0]
    assert f"pitchwright log import {aside}" in said[0]
    with Logbook(str(tmp_path / "new.sqlite")) as logbook:
        import_lines(logbook, aside)
        assert check(logbook) == ()
        (known,) = instruments(logbook)
        assert (known.name, known.surveys) == ("Heron", 2)


def test_what_went_aside_meets_the_instrument_it_belongs_to(tmp_path: Path) -> None:
    path = str(tmp_path / "logbook.sqlite")
    with Recorder(path) as recorder:
        uid = recorder.instrument("Heron", what="oscillator", fed_by="output 2")
    with Recorder(str(tmp_path), warn=lambda _: None, aside=tmp_path) as recorder:
        trim(recorder)
        aside = Path(recorder.where)
    with Logbook(path) as logbook:
        import_lines(logbook, aside)
        (known,) = instruments(logbook)
        assert (known.uid, known.surveys) == (uid, 2)
        now = described(logbook, uid)
        assert now is not None
        assert now.fed_by == "output 2"


def test_a_logbook_that_goes_away_on_the_way(tmp_path: Path) -> None:
    said: list[str] = []
    folder = tmp_path / "pitchwright"
    with Recorder(str(folder / "logbook.sqlite"), warn=said.append, aside=tmp_path) as recorder:
        logbook = recorder.logbook
        assert logbook is not None
        appended = 0
        real = logbook.append

        def full(*given: object, **named: object) -> object:
            nonlocal appended
            appended += 1
            if appended > 20:
                raise InputError("The disk is full; nothing was written", logbook.where)
            return real(*given, **named)  # type: ignore[arg-type]

        logbook.append = full  # type: ignore[method-assign, assignment]
        trim(recorder)
        aside = Path(recorder.where)
    assert len(said) == 1
    with Logbook(str(folder / "logbook.sqlite")) as again:
        import_lines(again, aside)
        assert check(again) == ()
        assert [row.state.value for row in history(again, find_instrument(again, "Heron").uid)] == [
            "as found",
            "as left",
        ]


def test_where_not_even_a_file_can_be_written_it_is_said_and_goes_on(tmp_path: Path) -> None:
    said: list[str] = []
    nowhere = tmp_path / "no such folder"
    with Recorder(str(tmp_path), warn=said.append, aside=nowhere) as recorder:
        trim(recorder)
        assert recorder.where == ""
    assert len(said) == 2
    assert "nothing is written down" in said[1]
