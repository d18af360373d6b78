"""A source surveyed or trimmed in the terminal: by voltages, or through a trusted oscillator."""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from pitchwright.bench.live.bench_file import BenchFile
from pitchwright.bench.practice import PracticeBench, Turner
from pitchwright.bench.runner import Bench, Subscriber, run
from pitchwright.bench.source_benches import (
    ByMeter,
    PracticeSourceBench,
    ThroughTrusted,
    source_trimmers,
)
from pitchwright.bench.table import read_table
from pitchwright.bench.target_file import read_target, read_voltages
from pitchwright.cli import console
from pitchwright.cli.kept_events import keeping, kept_in
from pitchwright.cli.live import connected, described_bench
from pitchwright.cli.recorded import conditions, recorder, say_where
from pitchwright.cli.survey import hand_out
from pitchwright.cli.surveying import Surveyed
from pitchwright.cli.trimming import (
    KeyboardTurner,
    Teller,
    survey_left,
)
from pitchwright.ensemble import Meter, points_by_trusted, points_of_voltages
from pitchwright.errors import InputError
from pitchwright.practice import CvSource, Oscillator, theatre_rig
from pitchwright.practice.hands import Hand
from pitchwright.practice.trimmable_source import trimmable
from pitchwright.procedures.events import Event
from pitchwright.procedures.outcomes import SurveyClosed
from pitchwright.procedures.settings import TrimSettings
from pitchwright.procedures.survey import SurveySettings, survey
from pitchwright.procedures.surveyed import curve_followed, surveyed
from pitchwright.sitting import Begun, Job, Sitting, job_of, trim_job
from pitchwright.tracking import TargetCurve
from pitchwright.units import A4_HZ, NOTE_AT_0_V, note_name
from pitchwright.upkeep import Recorder

__all__ = ["survey_source", "trim_source"]

METER = "meter"
CAUTION_DC = (
    "A control voltage is DC: measure it with a meter, never through a loudspeaker, headphone or "
    "power amplifier."
)


def survey_source(
    name: str,
    *,
    volts: Path | None,
    heard: Path | None,
    known: Path | None,
    meter_mv: float,
    meter_gain_percent: float,
    sheet: Path | None,
    as_json: bool,
) -> None:
    """Survey a source from voltages, or from what a trusted oscillator played.

    Raises
    ------
    InputError
        Where a table cannot be used.
    """
    if volts is not None:
        points = points_of_voltages(
            read_voltages(volts, name), _meter(meter_mv, meter_gain_percent)
        )
        where = f"voltages, {volts}"
    else:
        assert heard is not None
        trusted = _curve(known, "") or TargetCurve.flat()
        points = points_by_trusted(
            [point for point in read_table(heard).points if point.kept], trusted
        )
        where = f"through a trusted oscillator, {heard}"
    closed = SurveyClosed(name, tuple(points))
    found = surveyed(closed)
    hand_out([Surveyed(closed, found, where)], sheet=sheet, csv=None, as_json=as_json)
    if not as_json:
        base, scale = found.model.base.value, found.model.scale_cents_per_oct
        if base is not None and scale is not None:
            console.sentence(
                f"In volts: {console.number(base / 1.2, 2, sign=True)} mV at "
                f"{note_name(found.model.ref_note)}, "
                f"{console.number(scale / 1.2, 2, sign=True)} mV per volt."
            )


def trim_source(
    name: str,
    *,
    by: str,
    known: Path | None,
    practice: bool,
    hand: bool,
    low: int,
    high: int,
    tolerance_cents: float,
    meter_mv: float,
    meter_gain_percent: float,
    seed: int,
    bench_file: Path | None,
    events: Path | None,
    logbook: str,
) -> None:
    """Trim base and scale of a source's output by the guided trim, and survey it afresh.

    Raises
    ------
    InputError
        Where there is no such source or oscillator, or what is wanted cannot be.
    """
    if practice and hand:
        raise InputError(
            "Say who turns", do="--practice: you, at the keyboard; --hand: a simulated hand"
        )
    meter = _meter(meter_mv, meter_gain_percent)
    curve = _curve(known, by)
    there = None if practice or hand or by == METER else described_bench(bench_file)
    settings = TrimSettings(
        oscillator=name,
        trimmers=source_trimmers(),
        low=float(low),
        high=float(high),
        tolerance_cents=tolerance_cents,
        note_at_0_v=NOTE_AT_0_V if there is None else there.note_at_0_v,
        conditions=conditions(
            reference=f"a voltmeter, {meter_mv:g} mV"
            if by == METER
            else f"{by}, whose curve is known"
        ),
    )
    invented = practice or hand or (there is not None and there.invented)
    with recorder(logbook, practice=invented) as written:
        if there is not None:
            _trim_live(there, settings, by, curve, events, written)
        elif practice or hand:
            console.sentence("The practice rig: source, values and hands are invented.")
            turner = KeyboardTurner() if practice else None
            named, bench = _practised(settings, by, curve, meter, turner, seed)
            job = trim_job(replace(settings, oscillator=named))
            _carry_out(written, _begin(written, job), bench)
        else:
            console.sentence(CAUTION_DC)
            _carry_out(written, _begin(written, trim_job(settings)), _metered(name, meter))
        say_where(written)


def _trim_live(
    there: BenchFile,
    settings: TrimSettings,
    by: str,
    curve: TargetCurve | None,
    events: Path | None,
    written: Recorder,
) -> None:
    """Trim it live, heard through a trusted oscillator of the bench."""
    trusted = there.named(by)
    earlier = kept_in(events)
    begun = _begin(written, job_of(earlier, str(events)) or trim_job(settings), earlier)
    (name,) = begun.job.oscillators
    with connected(there, [trusted], a4_hz=A4_HZ, start_s=begun.start_s) as live:
        bench = ThroughTrusted(live, name, trusted, curve or TargetCurve.flat())
        _carry_out(written, begun, bench, keeping(events))


def _begin(written: Recorder, job: Job, earlier: Sequence[Event] = ()) -> Begun:
    what = dict.fromkeys(job.oscillators, "a source")
    return Sitting(written).begin(job, earlier=earlier, what=what)


def _carry_out(written: Recorder, begun: Begun, bench: Bench, *keep: Subscriber) -> None:
    begun.carry_out(bench, (*keep, Teller()))
    survey_left(written, begun, bench)


def _own_curve(
    oscillator: Oscillator, settings: TrimSettings, rng: np.random.Generator
) -> TargetCurve:
    """An oscillator's own curve, surveyed with a source that is right: all invented."""
    console.sentence(
        f"First {oscillator.name}'s own curve is measured, with a source known to be right."
    )
    bench = PracticeBench(oscillator, CvSource("right"), Hand(rng), rng)
    wanted = SurveySettings((oscillator.name,), settings.all_notes)
    points = run(survey(wanted), bench, name="survey", settings=wanted)[oscillator.name]
    return curve_followed(oscillator.name, points, same_take=False)


def _practised(
    settings: TrimSettings,
    by: str,
    curve: TargetCurve | None,
    meter: Meter,
    turner: Turner | None,
    seed: int,
) -> tuple[str, Bench]:
    rig = theatre_rig()
    work = trimmable(rig.source(settings.oscillator))
    rng = np.random.default_rng(seed)
    if by == METER:
        # A perfect oscillator plays a voltage as it is: what it is read with is the meter.
        bench = PracticeSourceBench(
            Oscillator(work.source.name),
            work.now,
            turner or Hand(rng),
            rng,
            reading_cents=max(1200.0 * meter.u_v, 0.005),
            trimmable=work,
        )
        return work.source.name, bench
    (voice,) = rig.only(by).voices
    if curve is None:
        curve = _own_curve(voice.oscillator, settings, rng)
    inner = PracticeSourceBench(
        voice.oscillator, work.now, turner or Hand(rng), rng, trimmable=work
    )
    trusted = voice.oscillator.name
    return work.source.name, ThroughTrusted(inner, work.source.name, trusted, curve)


def _metered(name: str, meter: Meter) -> Bench:
    return ByMeter(
        name,
        meter,
        _typed_volts,
        console.sentence,
        time.monotonic,
        float(NOTE_AT_0_V),
    )


def _typed_volts(question: str, may_be_nothing: bool) -> float | None:
    while True:
        answer = console.ask(f"  {question}")
        if not answer and may_be_nothing:
            return None
        try:
            volts = float(answer.replace(",", ".").replace("−", "-"))
        except ValueError:
            volts = math.nan
        if abs(volts) <= 20.0:
            return volts
        console.sentence("Write the volts that the meter shows, such as 3.0012.", indent=2)


def _meter(meter_mv: float, gain_percent: float) -> Meter:
    return Meter(meter_mv / 1000.0, gain_percent / 100.0)


def _curve(known: Path | None, trusted: str) -> TargetCurve | None:
    """The trusted oscillator's own curve, where one is given."""
    return None if known is None else read_target(known, trusted, "")
