"""A guided trim at the live bench: a person turns; the tool plays, hears and says where to stop."""

from __future__ import annotations

from pathlib import Path

from pitchwright.bench.live.bench_file import BenchFile
from pitchwright.bench.live.live_bench import LiveBench
from pitchwright.bench.runner import run
from pitchwright.cli import console
from pitchwright.cli.kept_events import keeping
from pitchwright.cli.live import LiveLine, connected, expect_notes
from pitchwright.cli.recorded import recorder, say_where
from pitchwright.cli.trimming import Teller, begin_trim, survey_left
from pitchwright.errors import InputError
from pitchwright.procedures.circumstances import Conditions
from pitchwright.procedures.settings import TrimSettings
from pitchwright.procedures.survey import SurveySettings, order, survey
from pitchwright.tracking import Point, TargetCurve

__all__ = ["live_settings", "survey_first", "trim_live"]


def live_settings(
    bench: BenchFile,
    name: str,
    *,
    low: int,
    high: int,
    tolerance_cents: float,
    own_middle: bool,
    a4_hz: float,
    conditions: Conditions,
) -> TrimSettings:
    """What a guided trim of an oscillator of this bench is asked to do.

    Raises
    ------
    InputError
        Where there is no such oscillator, or no trimmer of it is described.
    """
    oscillator = bench.named(name)
    trimmers = bench.trimmers(oscillator)
    if not trimmers:
        raise InputError(
            f"No trimmer of {oscillator} is described",
            "bench file",
            f"Add [[oscillator.{oscillator}.trimmer]] with name and kind for each",
        )
    return TrimSettings(
        oscillator=oscillator,
        trimmers=trimmers,
        low=float(low),
        high=float(high),
        tolerance_cents=tolerance_cents,
        target=TargetCurve.flat(a4_hz),
        own_middle=own_middle,
        note_at_0_v=bench.note_at_0_v,
        clock_ppm=bench.u_clock_ppm,
        conditions=conditions.or_else(bench.conditions([oscillator])),
    )


def survey_first(bench: BenchFile, wanted: SurveySettings, a4_hz: float) -> tuple[Point, ...]:
    """Survey one oscillator of this bench, to be followed by another."""
    with connected(bench, wanted.oscillators, a4_hz=a4_hz) as live:
        expect_notes(live, bench, order(wanted))
        return run(survey(wanted), live, name="survey", settings=wanted)[wanted.oscillators[0]]


def trim_live(
    bench: BenchFile,
    settings: TrimSettings,
    *,
    a4_hz: float,
    events: Path | None,
    resume: bool,
    afresh: bool,
    logbook: str,
) -> None:
    """Trim one oscillator live, from the start or from where it was stopped, and survey it again.

    Parameters
    ----------
    bench
        What is connected.
    settings
        What is wanted; a trim that is gone on with keeps its own.
    a4_hz
        Pitch of A4.
    events
        Keeps what happens, and is gone on from.
    resume, afresh
        Whether to go on with a trim that was stopped, or to forget it.
    logbook
        Where it is written down.
    """
    one = bench.oscillator[settings.oscillator]
    with recorder(logbook, practice=bench.invented) as written:
        begun = begin_trim(
            written, settings, events=events, resume=resume, afresh=afresh, what=one.what
        )
        settings = begun.job.settings
        with connected(bench, [settings.oscillator], a4_hz=a4_hz, start_s=begun.start_s) as live:
            if not begun.earlier:
                _expect(live, bench, settings)
            begun.carry_out(live, (keeping(events), Teller(), LiveLine()))
            console.sentence("Now it is surveyed afresh, as left.")
            _expect(live, bench, settings)
            survey_left(written, begun, live)
        say_where(written)


def _expect(live: LiveBench, bench: BenchFile, settings: TrimSettings) -> None:
    expect_notes(live, bench, order(settings.as_left))
