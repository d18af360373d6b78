"""From the logbook to the certificate: which surveys, which turns, and as of which day."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from pitchwright.bench.practice import PracticeBench, trimmers_of
from pitchwright.bench.runner import run
from pitchwright.certificate.certificate import certificate_pdf
from pitchwright.errors import InputError
from pitchwright.logbook.facts import EntryWithdrawn, InstrumentDescribed, SurveyRecorded
from pitchwright.logbook.history import find_instrument, history
from pitchwright.logbook.store import Logbook, new_uid
from pitchwright.practice.hands import Hand
from pitchwright.practice.scenario import theatre_rig
from pitchwright.procedures.circumstances import Conditions, SurveyState
from pitchwright.procedures.events import Event, Started
from pitchwright.procedures.guided_trim import guided_trim
from pitchwright.procedures.requests import Ended, Heard, TurnWatched, WatchTurn
from pitchwright.procedures.settings import TrimSettings
from pitchwright.procedures.survey import survey
from pitchwright.tracking import Point, TargetCurve, survey_oscillator
from pitchwright.units import cents_between, note_to_hz
from pitchwright.upkeep import Recorder
from pitchwright.upkeep.certifying import certificate_of, certificates_of_all, history_chart
from pitchwright.upkeep.comparing import compare
from pitchwright.upkeep.records import figures_of

START = datetime(2024, 3, 1, 12, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def trimmed(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[Event]]:
    """A logbook with one trim of Heron on the practice rig, and its events."""
    real = tmp_path_factory.mktemp("trimmed") / "logbook.sqlite"
    rig = theatre_rig()
    (voice,) = rig.only("Heron").voices
    rng = np.random.default_rng(1)
    bench = PracticeBench(voice.oscillator, rig.source("Loft"), Hand(rng), rng)
    under = Conditions(21.5, 95.0, "Loft", "output 2")
    settings = TrimSettings("Heron", trimmers_of(voice.oscillator), conditions=under)
    events: list[Event] = []
    with Recorder(str(real), practice=True) as recorder:
        recorder.instrument("Heron", trimmers=settings.trimmers, fed_by="output 2")
        record = recorder.follow(["Heron"])
        run(
            guided_trim(settings),
            bench,
            (record, events.append),
            name="guided trim",
            settings=settings,
        )
        left = recorder.follow(["Heron"], of_run=record.run)
        wanted = settings.as_left
        run(survey(wanted), bench, (left,), name="survey", settings=wanted)
        path = Path(recorder.where)
    return path, events


@pytest.fixture
def practised(trimmed: tuple[Path, list[Event]], tmp_path: Path) -> Iterator[Logbook]:
    shutil.copy(trimmed[0], tmp_path / "copy.sqlite")
    with Logbook(str(tmp_path / "copy.sqlite")) as logbook:
        yield logbook


def test_a_trim_makes_a_whole_certificate(
    practised: Logbook, trimmed: tuple[Path, list[Event]]
) -> None:
    contents = certificate_of(practised, "heron")
    assert (contents.name, contents.fed_by, contents.invented) == ("Heron", "output 2", True)
    assert contents.found is not None
    assert contents.left is not None
    assert contents.found.temperature_c == 21.5
    assert contents.left.minutes_on == 95.0
    assert "scale trimmer" in contents.trimmers
    # Worked out anew from the readings, it is what was told then.
    rows = history(practised, find_instrument(practised, "Heron").uid)
    for one, row in zip((contents.found, contents.left), rows, strict=True):
        assert one.uid == row.uid
        assert one.survey.model.scale_cents_per_oct == pytest.approx(row.scale_cents_per_oct)
    # Every turn that was watched is on it, in order, by what was heard.
    watches = [e.what for e in trimmed[1] if isinstance(e.what, WatchTurn)]
    seen = [e.what for e in trimmed[1] if isinstance(e.what, TurnWatched)]
    turns = [turn for visit in contents.visits for turn in visit.turns]
    assert len(turns) == len(seen) > 2
    for turn, watch, what in zip(turns, watches, seen, strict=True):
        assert (turn.note, turn.aim_cents, turn.turns) == (watch.note, watch.aim_cents, what.turned)
        assert what.after.f_hz is not None
        assert turn.after_cents == pytest.approx(cents_between(what.after.f_hz, watch.tuned_hz))
    assert [visit.visit for visit in contents.visits] == sorted({w.visit for w in watches})
    assert certificate_pdf(contents).startswith(b"%PDF")


def recorded(
    state: SurveyState,
    cents_per_oct: float,
    *,
    target: TargetCurve | None = None,
    tolerance: float = 1.0,
    clock_ppm: float = 50.0,
) -> SurveyRecorded:
    points = tuple(
        Point(n, (n - 24) / 12, note_to_hz(n) * 2 ** (cents_per_oct * (n - 60) / 14400), 0.05, n)
        for n in range(24, 85, 12)
    )
    surveyed = survey_oscillator(
        "Wren", points, target=target, tolerances=(tolerance,), clock_ppm=clock_ppm
    )
    return SurveyRecorded(state, points, figures_of(surveyed), target=target, clock_ppm=clock_ppm)


@pytest.fixture
def logbook(tmp_path: Path) -> Iterator[Logbook]:
    """Wren, found and left each year from 2024 to 2026, and checked in between."""
    with Logbook(str(tmp_path / "logbook.sqlite"), bench="loft") as book:
        wren = new_uid()
        book.append(InstrumentDescribed("Wren", fed_by="output 3"), instrument=wren, at=START)
        flat = TargetCurve.flat(442.0)
        for year in range(3):
            at = START + timedelta(days=365.25 * year)
            for state, hours, scale in (
                (SurveyState.AS_FOUND, 0, 1.0 + year),
                (SurveyState.AS_LEFT, 1, 0.05),
                (SurveyState.CHECK, 24 * 90, 0.3),
            ):
                book.append(
                    recorded(state, scale, target=flat, tolerance=2.0),
                    instrument=wren,
                    at=at + timedelta(hours=hours),
                )
        yield book


def scales(logbook: Logbook, day: date | None = None) -> tuple[float | None, float | None]:
    contents = certificate_of(logbook, "Wren", dated=day)
    found, left = (
        None if one is None else round(one.survey.model.scale_cents_per_oct or 0.0, 2)
        for one in (contents.found, contents.left)
    )
    return found, left


def test_the_newest_pair_counts_and_later_checks_are_named(logbook: Logbook) -> None:
    contents = certificate_of(logbook, "Wren", dated=date(2026, 11, 25))
    assert scales(logbook, date(2026, 11, 25)) == (3.0, 0.05)
    assert contents.tolerance_cents == 2.0
    assert contents.last.clock_ppm == pytest.approx(50.0)
    assert "A4 = 442 Hz" in contents.last.survey.target.words
    assert [at.date() for at in contents.later] == [date(2026, 5, 31)]
    assert contents.visits == ()
    assert not contents.invented


def test_a_certificate_of_an_earlier_day_knows_nothing_later(logbook: Logbook) -> None:
    assert scales(logbook, date(2025, 6, 30)) == (2.0, 0.05)
    with pytest.raises(InputError, match="no survey up to 2023-12-31"):
        certificate_of(logbook, "Wren", dated=date(2023, 12, 31))


def test_found_again_and_not_trimmed_is_as_found_alone(logbook: Logbook) -> None:
    wren = find_instrument(logbook, "Wren").uid
    at = START + timedelta(days=990)
    logbook.append(recorded(SurveyState.AS_FOUND, 4.5), instrument=wren, at=at)
    assert scales(logbook, date(2026, 12, 31)) == (4.5, None)
    contents = certificate_of(logbook, "Wren", dated=date(2026, 12, 31))
    assert contents.found is not None
    assert "does not say what it was measured against" in contents.found.remark


def test_a_withdrawn_survey_is_on_no_certificate(logbook: Logbook) -> None:
    wren = find_instrument(logbook, "Wren").uid
    newest = [row for row in history(logbook, wren) if row.state is SurveyState.AS_LEFT][-1]
    logbook.append(EntryWithdrawn("wrong cable"), instrument=wren, corrects=newest.uid)
    assert scales(logbook, date(2026, 11, 25)) == (3.0, None)


def test_left_without_found_does_not_borrow_an_older_one(logbook: Logbook) -> None:
    wren = find_instrument(logbook, "Wren").uid
    at = START + timedelta(days=990)
    logbook.append(recorded(SurveyState.AS_LEFT, 0.01), instrument=wren, at=at)
    assert scales(logbook, date(2026, 12, 31)) == (None, 0.01)


def test_a_check_alone_is_better_than_nothing(logbook: Logbook) -> None:
    plover = new_uid()
    logbook.append(InstrumentDescribed("Plover"), instrument=plover, at=START)
    logbook.append(InstrumentDescribed("Dunlin"), instrument=new_uid(), at=START)
    logbook.append(recorded(SurveyState.CHECK, 0.5), instrument=plover, at=START)
    contents = certificate_of(logbook, "Plover")
    assert contents.found is not None
    assert contents.left is None
    every = certificates_of_all(logbook, tolerance_cents=3.0)
    assert [(one.name, one.tolerance_cents) for one in every] == [("Plover", 3.0), ("Wren", 3.0)]


def test_the_history_chart_says_when_it_is_due(logbook: Logbook) -> None:
    svg = ET.fromstring(history_chart(logbook, "Wren"))
    words = [text.text or "" for text in svg.iter("{http://www.w3.org/2000/svg}text")]
    assert "9 surveys, 1 March 2024 to 31 May 2026" in words
    # By hand: (1.95 + 2.95) cents per octave in 24 months.
    assert any("+0.204" in word for word in words)
    assert any(word.startswith("due ") for word in words)


def test_an_instrument_without_a_survey_has_no_chart(logbook: Logbook) -> None:
    logbook.append(InstrumentDescribed("Dunlin"), instrument=new_uid(), at=START)
    with pytest.raises(InputError, match="no survey to draw"):
        history_chart(logbook, "Dunlin")


def test_one_survey_makes_no_years(logbook: Logbook) -> None:
    dunlin = new_uid()
    logbook.append(InstrumentDescribed("Dunlin"), instrument=dunlin, at=START)
    logbook.append(recorded(SurveyState.CHECK, 1.0), instrument=dunlin, at=START)
    with pytest.raises(InputError, match="surveyed once, on 1 March 2024"):
        history_chart(logbook, "Dunlin")
    with pytest.raises(InputError, match="has one survey"):
        compare(logbook, "Dunlin")


def test_the_newest_survey_is_compared_with_the_one_before(logbook: Logbook) -> None:
    """At two checks 0.30 and 5.30 cents per octave: C1 is 3 × 5 cents lower, by hand."""
    wren = find_instrument(logbook, "Wren").uid
    at = START + timedelta(days=1000)
    target = TargetCurve.flat(442.0)
    logbook.append(recorded(SurveyState.CHECK, 5.3, target=target), instrument=wren, at=at)
    compared = compare(logbook, "Wren")
    assert "most at C1: −15.0" in compared.sentence
    assert compared.unlike == ""
    svg = ET.fromstring(compared.svg)
    words = [text.text or "" for text in svg.iter("{http://www.w3.org/2000/svg}text")]
    assert {"31 May 2026", "26 November 2026"} <= set(words)


def test_another_source_speaks_against_a_comparison(logbook: Logbook) -> None:
    wren = find_instrument(logbook, "Wren").uid
    other = replace(recorded(SurveyState.CHECK, 2.0), conditions=Conditions(source="Stairs"))
    logbook.append(other, instrument=wren, at=START + timedelta(days=1000))
    assert (
        "fed by something that was not noted then and Stairs now" in compare(logbook, "Wren").unlike
    )


def turn(at_cents: float) -> tuple[WatchTurn, TurnWatched]:
    asked = WatchTurn(
        "Wren", "scale", 1, 1, 60.0, 3.0, 261.6, at_cents, 0.0, 0.4, -60.0, 60.0,
        None, None, False, "Turn it.",
    )  # fmt: skip
    return asked, TurnWatched(Ended.INSIDE, Heard("Wren", 0.0, 261.6, 0.03), (), 0.5)


def test_what_was_turned_after_the_survey_as_left_is_not_on_its_certificate(
    logbook: Logbook,
) -> None:
    """A trim that was stopped is surveyed as left by itself, and only then gone on with."""
    wren, run_uid = find_instrument(logbook, "Wren").uid, new_uid()
    left = [row for row in history(logbook, wren) if row.state is SurveyState.AS_LEFT][-1]
    at = datetime.fromisoformat(left.at_utc)
    logbook.append(
        Started("guided trim", {}), run=run_uid, instrument=wren, at=at - timedelta(minutes=40)
    )
    for minutes, cents in ((-50, 1.0), (-80, 9.0), (-20, 2.0), (20, 3.0)):
        for what in turn(cents):
            logbook.append(what, run=run_uid, instrument=wren, at=at + timedelta(minutes=minutes))
    contents = certificate_of(logbook, "Wren", dated=date(2026, 11, 25))
    turns = [one.before_cents for visit in contents.visits for one in visit.turns]
    assert turns == [1.0, 2.0], "one before it was found, and one after it was left"
