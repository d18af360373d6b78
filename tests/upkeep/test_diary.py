"""Routes, planned detunes and corrections in the diary, for each oscillator they are about."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from pitchwright.bench.runner import announce
from pitchwright.detune import even
from pitchwright.logbook.care import check, rebuild
from pitchwright.logbook.exchange import export_lines, import_lines
from pitchwright.logbook.store import Logbook, instrument_uid
from pitchwright.procedures.events import Happening
from pitchwright.procedures.outcomes import ForecastMade
from pitchwright.procedures.worked_out import (
    CorrectionsMade,
    DetunePlanned,
    NoteCorrected,
    route_solved,
)
from pitchwright.route import Oscillator, PassiveMultiple, Patch, Source, report
from pitchwright.stability import Readiness
from pitchwright.upkeep import Recorder
from pitchwright.upkeep.diary import diary

PATCH = Patch(
    (
        Source("Loft", 1000.0),
        PassiveMultiple("split", "Loft"),
        Oscillator("Heron", "split", 1e5),
        Oscillator("Wren", "split", 1e5),
    )
)
CORRECTIONS = CorrectionsMade(
    oscillator="Dunlin",
    notes=(NoteCorrected(60, 3.0, -3.0, 0.0, 0.1),),
    wander_cents=None,
    step_cents=0.01,
    worst_before_cents=3.0,
    worst_after_cents=0.04,
    u_after_cents=0.1,
    sent_to="Loft MIDI 1",
    sentences=("One note is corrected.",),
)


def forecast(oscillator: str, sentence: str) -> ForecastMade:
    return ForecastMade(
        oscillator=oscillator,
        note=60.0,
        readiness=next(iter(Readiness)),
        ready_in_s=600.0,
        ready_in_low_s=0.0,
        ready_in_high_s=1200.0,
        sure=0.5,
        drift_cents=None,
        wander_cents=None,
        u_wander_cents=None,
        cents_per_k=None,
        u_cents_per_k=None,
        tolerance_cents=1.0,
        horizon_s=1800.0,
        watched_s=60.0,
        sentence=sentence,
        why="",
    )


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    path = tmp_path / "logbook.sqlite"
    told: list[tuple[str, list[str], tuple[Happening, ...]]] = [
        ("route", ["Heron", "Wren"], (route_solved("Pit band", report(PATCH, [48, 60])),)),
        ("detune", ["Wren", "Plover"], (DetunePlanned(even(0.5, 48, 60, ["Wren", "Plover"])),)),
        ("corrections", ["Dunlin"], (CORRECTIONS,)),
        (
            "warm-up watch",
            ["Heron", "Plover"],
            (forecast("Heron", "Soon."), forecast("Plover", "Later."), forecast("Heron", "Ready.")),
        ),
    ]
    with Recorder(str(path), aside=tmp_path) as recorder:
        for name, oscillators, outcomes in told:
            record = recorder.follow(oscillators)
            for outcome in outcomes:
                announce(outcome, (record,), name=name, settings={})
    with Logbook(str(path)) as logbook:
        yield logbook


def words_of(logbook: Logbook, name: str = "") -> dict[str, str]:
    about = instrument_uid(name) if name else None
    lines = diary(logbook, instrument=about, surveys=False)
    return {line.what: line.words for line in lines if line.what != "described"}


def test_everything_worked_out_is_a_line(book: Logbook) -> None:
    words = words_of(book)
    assert words["route"].startswith("Pit band: ")
    assert words["detune"].startswith("Wren and Plover, C3 to C4: ")
    assert words["corrections"] == (
        "greatest error 3.0 cents before, 0.0 predicted after; sent to Loft MIDI 1."
    )
    assert words["warm-up watch"] == "Heron: Ready. Plover: Later."


@pytest.mark.parametrize(
    ("name", "what"),
    [
        ("Heron", {"route", "warm-up watch"}),
        ("Wren", {"route", "detune"}),
        ("Plover", {"detune", "warm-up watch"}),
        ("Dunlin", {"corrections"}),
    ],
)
def test_an_instrument_has_what_it_takes_part_in(book: Logbook, name: str, what: set[str]) -> None:
    with Recorder(book.where) as recorder:
        recorder.instrument(name)
    assert words_of(book, name).keys() == what


def test_of_several_an_instrument_has_its_own_words(book: Logbook) -> None:
    with Recorder(book.where) as recorder:
        recorder.instrument("Wren")
    assert words_of(book, "Wren")["route"].startswith("Pit band: Wren gets 0.98039")
    assert words_of(book, "Plover")["warm-up watch"] == "Later."


def test_it_goes_out_and_in_and_is_made_again(book: Logbook, tmp_path: Path) -> None:
    assert check(book) == ()
    before = words_of(book)
    rebuild(book)
    export_lines(book, tmp_path / "all.jsonl")
    with Logbook(str(tmp_path / "other.sqlite")) as other:
        import_lines(other, tmp_path / "all.jsonl")
        assert check(other) == ()
        assert words_of(other) == before
