"""What is begun is written down, stopped, gone on with and surveyed as left: the same for all."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from pitchwright.bench.practice import PracticeBench, trimmers_of
from pitchwright.bench.stop import Stop, StopAsked
from pitchwright.errors import InputError
from pitchwright.logbook.history import described, history
from pitchwright.practice.hands import Hand
from pitchwright.practice.scenario import theatre_rig
from pitchwright.procedures.circumstances import Circumstances, SurveyState
from pitchwright.procedures.events import Event, Interrupted, Started
from pitchwright.procedures.settings import TrimSettings
from pitchwright.procedures.survey import SurveySettings
from pitchwright.procedures.warmup_watch import WatchSettings
from pitchwright.sitting import Sitting, job_of, survey_job, trim_job, warmup_job
from pitchwright.sitting.jobs import Job
from pitchwright.upkeep import Recorder, stopped_surveys

NOTES = (36.0, 48.0, 60.0, 72.0)
FOUND = survey_job(
    SurveySettings(("Heron",), NOTES, circumstances=Circumstances(SurveyState.AS_FOUND))
)


def bench(seed: int = 1, t_s: float = 0.0) -> PracticeBench:
    rig = theatre_rig()
    (voice,) = rig.only("Heron").voices
    rng = np.random.default_rng(seed)
    return PracticeBench(voice.oscillator, rig.source("Loft"), Hand(rng), rng, t_s=t_s)


def trim() -> TrimSettings:
    return TrimSettings("Heron", trimmers_of(bench().oscillator), 36.0, 72.0)


@pytest.fixture
def written(tmp_path: Path) -> Iterator[Recorder]:
    with Recorder(str(tmp_path / "logbook.sqlite")) as recorder:
        yield recorder


def states(written: Recorder) -> list[SurveyState]:
    assert written.logbook is not None
    return [row.state for row in history(written.logbook, written.instrument("Heron"))]


def test_a_trim_and_what_it_left_are_one_run(written: Recorder) -> None:
    sitting, at = Sitting(written), bench()
    begun = sitting.begin(trim_job(trim()), what={"Heron": "oscillator"})
    assert begun.carry_out(at).verdict.standing == "in tune"
    sitting.left(begun).carry_out(at)
    assert states(written) == [SurveyState.AS_FOUND, SurveyState.AS_LEFT]
    assert written.logbook is not None
    rows = history(written.logbook, written.instrument("Heron"))
    assert {row.run for row in rows} == {begun.run}
    told = described(written.logbook, written.instrument("Heron"))
    assert told is not None
    assert [one.name for one in told.trimmers] == [one.name for one in trim().trimmers]


def test_a_survey_leaves_nothing_that_could_be_surveyed_as_left(written: Recorder) -> None:
    sitting = Sitting(written)
    with pytest.raises(InputError, match="Nothing was trimmed"):
        sitting.left(sitting.begin(FOUND))


@pytest.mark.parametrize("after", range(1, 40, 3))
def test_a_stopped_survey_goes_on_at_a_new_bench_to_the_same_end(
    written: Recorder, after: int
) -> None:
    """Stopped wherever it is: the notes are each read, and the survey is as found as before."""
    sitting, stop = Sitting(written), Stop()
    seen: list[Event] = []

    def look_on(event: Event) -> None:
        seen.append(event)
        if event.number == after:
            stop.ask()

    begun = sitting.begin(FOUND)
    try:
        begun.carry_out(bench(), (look_on,), stop)
    except StopAsked:
        assert isinstance(seen[-1].what, Interrupted)
        assert written.logbook is not None
        (stopped,) = stopped_surveys(written.logbook, ["Heron"])
        again = sitting.begin(survey_job(stopped.settings), earlier=stopped.events, run=stopped.run)
        assert again.run == begun.run
        read = again.carry_out(bench(2, again.start_s))
        assert {point.note for point in read["Heron"]} == set(NOTES)
    assert states(written) == [SurveyState.AS_FOUND]


@pytest.mark.parametrize(
    "job", [FOUND, trim_job(trim()), warmup_job(WatchSettings(("Heron",), (60.0,)))]
)
def test_a_job_is_known_again_by_its_events(job: Job) -> None:
    from pitchwright.procedures.plain import to_plain

    begun = Event(1, 0.0, "2026-01-01T00:00:00+00:00", Started(job.name, to_plain(job.settings)))
    again = job_of([begun])
    assert again is not None
    assert (again.name, again.settings) == (job.name, job.settings)
    assert again.expected == job.expected


def test_what_is_no_job_is_refused() -> None:
    assert job_of([]) is None
    other = Event(1, 0.0, "2026-01-01T00:00:00+00:00", Started("detune", {}))
    with pytest.raises(InputError, match="detune cannot be gone on with"):
        job_of([other], "kept.jsonl")
