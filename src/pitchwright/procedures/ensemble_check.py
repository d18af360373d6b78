"""The ensemble check: all oscillators at once, through one source or several.

Theory of operation. As in a survey the reference note is played first and comes back every few
notes, so that drift is told from tracking; but every note is heard with all oscillators at once,
and each pair's beat is handed on as soon as it is known. With several sources the person is asked
to connect each in turn, or to leave it out. An oscillator that is never heard is left out with a
sentence; two must remain. At the end everything is looked at together (``ensemble``): who beats
with whom, how far all agree, who leads, and whose error it is.
"""

from __future__ import annotations

import math
from collections.abc import Generator, Iterable
from dataclasses import dataclass, replace
from itertools import combinations

from pitchwright.ensemble import Evidence, Overview, Sweep, Whose, overview, whose_error
from pitchwright.errors import InputError
from pitchwright.procedures.circumstances import NOTHING_SAID, Circumstances, Conditions
from pitchwright.procedures.outcomes import EnsembleSeen, PairHeard, PairsHeard, SurveyClosed
from pitchwright.procedures.requests import (
    Answer,
    Ask,
    Choice,
    Chosen,
    Heard,
    Report,
    Request,
    Tell,
    expect,
)
from pitchwright.procedures.survey import SurveySettings, listen, order, point_of
from pitchwright.procedures.surveyed import surveyed
from pitchwright.tracking import Point, TargetCurve
from pitchwright.units import A4_HZ, NOTE_AT_0_V, cents_between, note_name

__all__ = ["EnsembleChecked", "EnsembleSettings", "ensemble_check", "ensemble_seen"]

LEFT_OUT = "leave out"
"""The key that leaves a source out."""


@dataclass(frozen=True, slots=True)
class EnsembleSettings:
    """What to check.

    Attributes
    ----------
    oscillators
        Their names, two or more, all heard at once.
    notes
        MIDI note numbers.
    sources
        What plays them, one after another.
    straight
        Sources that cannot droop by themselves.
    tolerance_cents
        Greatest error allowed, either way.
    a4_hz
        Pitch of A4.
    note_at_0_v
        The note that 0 V plays.
    settle_s
        How long a note may take to settle, seconds.
    reference_every
        After how many notes the reference note is played again.
    clock_ppm
        Standard uncertainty of the clock behind the readings, parts per million.
    conditions
        What the check is made under, its sources aside.
    """

    oscillators: tuple[str, ...]
    notes: tuple[float, ...]
    sources: tuple[str, ...] = ("the source",)
    straight: tuple[str, ...] = ()
    tolerance_cents: float = 1.0
    a4_hz: float = A4_HZ
    note_at_0_v: float = NOTE_AT_0_V
    settle_s: float = 10.0
    reference_every: int = 6
    clock_ppm: float = 0.0
    conditions: Conditions = NOTHING_SAID

    def __post_init__(self) -> None:
        """Refuse what is no ensemble."""
        if len(set(self.oscillators)) < 2:
            raise InputError("One oscillator is no ensemble", do="Name two or more")
        for names in (self.oscillators, self.sources):
            for name in names:
                if (*self.oscillators, *self.sources).count(name) > 1:
                    raise InputError(f"Two are called {name}", do="Give each its own name")
        if not self.sources:
            raise InputError("Nothing plays them", do="Name a source")
        if len(set(self.notes)) < 2:
            raise InputError("One note is no check", do="Give a range such as C1 to C6")
        if not (math.isfinite(self.tolerance_cents) and self.tolerance_cents > 0.0):
            raise InputError("The tolerance must be above zero cents")

    @property
    def circumstances(self) -> Circumstances:
        """How the readings are to be understood."""
        return Circumstances(
            target=TargetCurve.flat(self.a4_hz),
            tolerances=(self.tolerance_cents,),
            clock_ppm=self.clock_ppm,
            conditions=self.conditions,
        )

    def survey(self) -> SurveySettings:
        """What each source plays."""
        return SurveySettings(
            self.oscillators, self.notes, self.note_at_0_v, self.settle_s, self.reference_every
        )


@dataclass(frozen=True, slots=True)
class EnsembleChecked:
    """What a check leaves.

    Attributes
    ----------
    sweeps
        Every survey, as if read from files.
    glance
        All oscillators against each other, by the first source that played them.
    whose
        Whose error it is.
    """

    sweeps: tuple[Sweep, ...]
    glance: Overview
    whose: Whose


def ensemble_check(settings: EnsembleSettings) -> Generator[Request, Answer, EnsembleChecked]:
    """Play every note with every source, hear all oscillators, and look at them together.

    Raises
    ------
    InputError
        Where every source was left out, or fewer than two oscillators were heard.
    """
    sweeps: list[Sweep] = []
    for source in settings.sources:
        if len(settings.sources) > 1 and not (yield from _connected(source)):
            continue
        sweeps += yield from _sweep(settings, source)
    if not sweeps:
        raise InputError("Every source was left out", do="Connect one at least")
    first: dict[str, tuple[Point, ...]] = {}
    for sweep in sweeps:
        first.setdefault(sweep.oscillator, sweep.points)
    if len(first) < 2:
        raise InputError(
            f"Only {next(iter(first))} was heard, and one oscillator is no ensemble",
            do="Check that the others' sound arrives and that the notes reach them",
        )
    under = settings.circumstances
    curves = {
        name: surveyed(SurveyClosed(name, points, circumstances=under)).curve.entries
        for name, points in first.items()
    }
    glance = overview(curves, settings.tolerance_cents, settings.a4_hz)
    played = {sweep.source for sweep in sweeps}
    straight = tuple(name for name in settings.straight if name in played)
    whose = whose_error(Evidence(tuple(sweeps), straight=straight))
    sources = dict.fromkeys(sweep.source for sweep in sweeps)
    yield Report(ensemble_seen(first, sources, glance, whose, settings.tolerance_cents))
    return EnsembleChecked(tuple(sweeps), glance, whose)


def ensemble_seen(
    oscillators: Iterable[str],
    sources: Iterable[str],
    glance: Overview,
    whose: Whose,
    tolerance_cents: float,
) -> EnsembleSeen:
    """An instrument at a glance, as it is handed on and written down."""
    reach = glance.reach
    return EnsembleSeen(
        oscillators=tuple(oscillators),
        sources=tuple(sources),
        leader=glance.leader,
        reference_hz=round(glance.reference_hz, 6),
        left_cents=round(glance.left_cents, 6),
        tolerance_cents=tolerance_cents,
        together=None if reach.low is None or reach.high is None else (reach.low, reach.high),
        sentences=glance.sentences,
        whose_error=whose.sentences,
    )


def _connected(source: str) -> Generator[Request, Answer, bool]:
    answer = yield Ask(
        "source",
        f"Connect {source} to all oscillators: through a second source it shows which error goes"
        " with the source and which with each oscillator.",
        (Choice(source, f"{source} is connected"), Choice(LEFT_OUT, f"Leave {source} out")),
        source,
    )
    return expect(answer, Chosen).key != LEFT_OUT


def _sweep(settings: EnsembleSettings, source: str) -> Generator[Request, Answer, list[Sweep]]:
    """One source, every note; silent oscillators are left out."""
    points: dict[str, list[Point]] = {name: [] for name in settings.oscillators}
    seen: set[float] = set()
    for note in order(settings.survey()):
        name = note_name(note)
        why = f"{name} again, to tell drift from tracking." if note in seen else f"{name}."
        seen.add(note)
        heard = yield from listen(
            settings.oscillators, note, settings.note_at_0_v, settings.settle_s, why
        )
        yield Report(PairsHeard(source, note, _pairs(heard)))
        for one in heard:
            points[one.oscillator].append(point_of(one, note, settings.note_at_0_v))
    sweeps = []
    for name, taken in points.items():
        if not any(point.kept for point in taken):
            yield Tell("silent", f"{name} gave no pitch at any note, so it is left out.")
            continue
        conditions = replace(settings.conditions, source=source)
        under = replace(settings.circumstances, conditions=conditions)
        yield Report(SurveyClosed(name, tuple(taken), source, under))
        sweeps.append(Sweep(name, source, tuple(taken)))
    return sweeps


def _pairs(heard: tuple[Heard, ...]) -> tuple[PairHeard, ...]:
    good = [(one, one.f_hz) for one in heard if one.f_hz is not None and not one.doubts]
    return tuple(
        PairHeard(
            a.oscillator,
            b.oscillator,
            round(cents_between(a_hz, b_hz), 6),
            math.hypot(a.u_cents, b.u_cents),
            round(abs(a_hz - b_hz), 9),
        )
        for (a, a_hz), (b, b_hz) in combinations(good, 2)
    )
