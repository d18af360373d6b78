"""A guided trim in the terminal: who turns, what is told, and where the events are kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from pitchwright.bench.practice import RIG_CONDITIONS, PracticeBench, Turner, trimmers_of
from pitchwright.bench.runner import Bench, run
from pitchwright.cli import console
from pitchwright.cli.console import number
from pitchwright.cli.kept_events import kept_in
from pitchwright.cli.recorded import go_on_with
from pitchwright.practice.hands import Hand, Person, Turned, Workpiece
from pitchwright.practice.scenario import theatre_rig
from pitchwright.procedures.circumstances import NOTHING_SAID, Conditions
from pitchwright.procedures.events import Event
from pitchwright.procedures.outcomes import CurveKnown, VerdictGiven
from pitchwright.procedures.requests import Ask, Ended, Tell, TurnWatched, Wait, WatchTurn
from pitchwright.procedures.settings import TrimSettings
from pitchwright.procedures.survey import SurveySettings, survey
from pitchwright.procedures.surveyed import surveyed
from pitchwright.sitting import Begun, Sitting, job_of, trim_job
from pitchwright.tracking import Point, TargetCurve
from pitchwright.units import note_name
from pitchwright.upkeep import Recorder, trimmers_as_known

__all__ = [
    "KeyboardTurner",
    "Teller",
    "begin_trim",
    "practice_bench",
    "practice_settings",
    "practised_survey",
    "survey_left",
    "with_what_was_learned",
]


def practice_settings(
    name: str,
    *,
    low: int,
    high: int,
    tolerance_cents: float,
    own_middle: bool = False,
    a4_hz: float = 440.0,
    conditions: Conditions = NOTHING_SAID,
) -> TrimSettings:
    """What a guided trim of an oscillator of the practice rig is asked to do.

    Raises
    ------
    InputError
        Where there is no such oscillator, or the range or tolerance cannot be.
    """
    (voice,) = theatre_rig().only(name).voices
    return TrimSettings(
        oscillator=voice.oscillator.name,
        trimmers=trimmers_of(voice.oscillator),
        low=float(low),
        high=float(high),
        tolerance_cents=tolerance_cents,
        target=TargetCurve.flat(a4_hz),
        own_middle=own_middle,
        conditions=conditions.or_else(RIG_CONDITIONS),
    )


def practice_bench(begun: Begun, turner: Turner | None, seed: int) -> PracticeBench:
    """The practice rig for a trim, its trimmers as earlier turns left them.

    Parameters
    ----------
    begun
        The trim.
    turner
        Who turns; a simulated hand where None.
    seed
        Of the reading noise and the hand.
    """
    rng = np.random.default_rng(seed)
    rig = theatre_rig()
    (voice,) = rig.only(*begun.job.oscillators).voices
    bench = PracticeBench(
        oscillator=voice.oscillator,
        source=rig.source("Loft"),
        turner=turner or Hand(rng),
        rng=rng,
        t_s=begun.start_s,
    )
    _turn_as_before(bench, begun.earlier)
    return bench


def begin_trim(
    written: Recorder,
    settings: TrimSettings,
    *,
    events: Path | None = None,
    resume: bool = False,
    afresh: bool = False,
    what: str = "",
) -> Begun:
    """Begin a trim, or go on with the one that a file or the logbook holds.

    Parameters
    ----------
    written
        The logbook.
    settings
        What is wanted; a trim that is gone on with keeps its own.
    events
        A file that may hold earlier events.
    resume, afresh
        Whether to go on with a trim that was stopped, or to forget it.
    what
        What the oscillator is said to be.
    """
    name = settings.oscillator
    earlier: Sequence[Event] = kept_in(events)
    job, run_uid = job_of(earlier, str(events)), ""
    if not earlier:
        stopped = go_on_with(written, name, resume=resume, afresh=afresh)
        if stopped is not None:
            earlier, run_uid = stopped.events, stopped.run
            job = trim_job(stopped.settings)
    job = job or trim_job(with_what_was_learned(settings, written))
    return Sitting(written).begin(job, earlier=earlier, run=run_uid, what={name: what})


def survey_left(written: Recorder, trimmed: Begun, bench: Bench) -> None:
    """Survey the oscillator afresh as the trim left it, and say what that came to."""
    left = Sitting(written).left(trimmed)
    points = left.carry_out(bench)
    (name,) = left.job.oscillators
    survey = surveyed(left.job.settings.closed(name, points))
    console.sentence(f"As left, surveyed afresh: {survey.headline} {survey.reaches[0].sentence}")


def practised_survey(wanted: SurveySettings) -> tuple[Point, ...]:
    """Survey one oscillator of the practice rig as it is found, by its Loft.

    Raises
    ------
    InputError
        Where there is no such oscillator.
    """
    rig = theatre_rig()
    (voice,) = rig.only(*wanted.oscillators).voices
    rng = np.random.default_rng(0)
    bench = PracticeBench(voice.oscillator, rig.source("Loft"), Hand(rng), rng)
    return run(survey(wanted), bench, name="survey", settings=wanted)[wanted.oscillators[0]]


def with_what_was_learned(settings: TrimSettings, written: Recorder) -> TrimSettings:
    """The settings with what the logbook knows of each trimmer."""
    if written.logbook is None:
        return settings
    known = trimmers_as_known(written.logbook, settings.oscillator, settings.trimmers)
    return replace(settings, trimmers=known)


def _turn_as_before(bench: PracticeBench, earlier: Sequence[Event]) -> None:
    """The practice rig forgets between runs: put its trimmers where the earlier turns left them."""
    trimmer = ""
    for event in earlier:
        if isinstance(event.what, WatchTurn):
            trimmer = event.what.trimmer
        elif isinstance(event.what, TurnWatched) and event.what.turned is not None:
            bench.turn(trimmer, event.what.turned)


class KeyboardTurner(Person):
    """A person who turns the simulated trimmers from the keyboard."""

    def turn(
        self,
        work: Workpiece,
        *,
        asked: str,
        start_cents: float,
        aim_cents: float,
        low_cents: float,
        high_cents: float,
        most_turns: float | None,
        clockwise: bool | None,
    ) -> Turned:
        """Ask for turns until the person is content; an empty line leaves it where it is."""
        del start_cents, low_cents, high_cents, most_turns, clockwise
        net = 0.0
        track: list[tuple[float, float]] = []
        while True:
            work.wait(0.5)
            cents = work.live_cents()
            track.append((work.now_s(), cents))
            console.sentence(
                f"Reading {number(cents, 2, sign=True)} cents, aim "
                f"{number(aim_cents, 2, sign=True)}: {_distance(cents - aim_cents)}.",
                indent=2,
            )
            answer = console.ask("  Turns (clockwise +, such as 0.5 or -0.1); Enter to leave it: ")
            if not answer:
                return Turned(net, tuple(track), "there")
            try:
                turns = float(answer.replace(",", ".").replace("−", "-"))
            except ValueError:
                console.sentence("Write a number of turns, or nothing.", indent=2)
                continue
            turns = max(-20.0, min(20.0, turns))
            work.turn(asked, turns)
            net += turns


def _distance(cents: float) -> str:
    return f"{abs(cents):.2f} cents too {'sharp' if cents > 0 else 'flat'}"


class Teller:
    """Prints what a person wants to know of each event; a curve that has not changed, once."""

    def __init__(self) -> None:
        self._shown: tuple[float, ...] = ()

    def __call__(self, event: Event) -> None:
        """Print one event, or nothing."""
        what = event.what
        if isinstance(what, CurveKnown):
            if what.cents != self._shown:
                _tell_curve(what)
            self._shown = what.cents
        elif isinstance(what, WatchTurn):
            step = "probe" if what.probe else f"turn {what.turn}"
            console.heading(
                f"Visit {what.visit}, {step}: {what.trimmer}, at {note_name(what.note)}"
            )
            console.sentence(what.sentence)
            if what.caution:
                console.sentence(what.caution)
        elif isinstance(what, TurnWatched):
            console.sentence(_RESTED[what.ended])
        elif isinstance(what, Tell | Ask | Wait):
            console.sentence(what.sentence)
        elif isinstance(what, VerdictGiven):
            _tell_verdict(what)


_RESTED = {
    Ended.INSIDE: "It came to rest inside the window.",
    Ended.OUTSIDE: "It came to rest outside the window.",
    Ended.LIMIT: "It was stopped at the limit of this turn.",
    Ended.STILL: "Nothing moved.",
}


def _tell_curve(curve: CurveKnown) -> None:
    judged = curve.judged(1.0).notes
    when = "As found" if curve.after_visit == 0 else f"In visit {curve.after_visit}"
    console.gap()
    console.sentence(f"{when}, cents away from the target, and ± what covers 95 %:")
    console.table(
        ("", *(note_name(note) for note in curve.notes)),
        [
            ("", *(number(cents, 1, sign=True) for cents in curve.cents)),
            ("±", *(number(max(one.expanded_cents, 0.1), 1) for one in judged)),
        ],
    )


def _tell_verdict(given: VerdictGiven) -> None:
    verdict = given.verdict
    console.heading(f"{given.oscillator}: {verdict.standing.value}")
    console.sentence(
        f"Greatest error from {note_name(verdict.low)} to {note_name(verdict.high)}: "
        f"{number(abs(verdict.greatest_cents), 2)} ± {number(verdict.expanded_greatest_cents, 2)} "
        f"cents, at {note_name(verdict.at_note)}; wanted: ±{verdict.tolerance_cents:g}. It holds "
        f"±{number(verdict.holds_cents, 2)} cents; the best these trimmers could do is "
        f"±{number(verdict.best_possible_cents, 2)}."
    )
    for sentence in (*verdict.why, *verdict.would_help):
        console.sentence(sentence)
