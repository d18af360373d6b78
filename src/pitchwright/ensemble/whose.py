"""Whose error is it: the source's, or each oscillator's own.

A survey shows the sum of what the source sends and what the oscillator makes of it. Sums are known
to the readings' uncertainty, and so are differences between oscillators through the same source.
The two parts of a sum are not: a line and the droop's shape can be moved from a source to everyone
it feeds without a reading changing, and more sources and more oscillators do not help, because they
can be moved to all of them at once. That takes something from outside: voltages, or somebody whose
scale is known.

The unknowns are each one's own scale and droop, the meter's gain, and what each source does beside
line and droop at the notes whose voltage was measured. That last part is heard too, as what all
oscillators share, to within what oscillators do by themselves.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from pitchwright.ensemble.measured import Known, Meter, Sweep, Voltage
from pitchwright.ensemble.steps import Step, steps
from pitchwright.ensemble.system import Equation, Solution, Unknown, solve
from pitchwright.ensemble.tables import Projection, Table, tables
from pitchwright.ensemble.words import sentences
from pitchwright.errors import InputError

__all__ = ["Evidence", "Figure", "Kind", "Whose", "whose_error"]

Array = NDArray[np.float64]

Kind = str
SCALE: Kind = "scale"
DROOP: Kind = "droop"

_SURE = 1e-7
"""A meter without gain error, for the equations."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """All that was measured and is known.

    Attributes
    ----------
    sweeps
        Surveys of oscillators through sources.
    voltages
        Voltages of sources, read by one meter.
    meter
        How good that is.
    known
        Scales known beforehand.
    straight
        Sources that cannot droop by themselves (a resistor chain, a converter: most cannot), so
        that two voltages are enough.
    """

    sweeps: tuple[Sweep, ...]
    voltages: tuple[Voltage, ...] = ()
    meter: Meter = field(default_factory=Meter)
    known: tuple[Known, ...] = ()
    straight: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure about who is off by how much.

    Attributes
    ----------
    what
        “own” (of an oscillator or a source), “together” (an oscillator through a source) or
        “apart” (the first minus the second).
    kind
        “scale” or “droop”.
    names
        Whose: one name, or two.
    amount, u
        Cents per octave for a scale, cents per kHz for a droop, and the standard uncertainty; None
        where it cannot be told.
    """

    what: str
    kind: Kind
    names: tuple[str, ...]
    amount: float | None
    u: float | None

    @property
    def told(self) -> bool:
        """Whether it can be told from what was measured."""
        return self.amount is not None


@dataclass(frozen=True, slots=True)
class Whose:
    """Who is off by how much, as far as can be told.

    Attributes
    ----------
    notes
        The notes all surveys share.
    oscillators, sources
        Their names.
    figures
        Every figure asked for, told or not.
    steps
        Step errors of sources.
    alone
        Sources heard through one oscillator only, whose steps cannot be told from its residual.
    groups
        Oscillators and sources that surveys connect.
    drift_hides_cents_per_oct
        What one cent per minute of drift could do to a scale unseen, at worst.
    sentences
        The same in words.
    """

    notes: tuple[float, ...]
    oscillators: tuple[str, ...]
    sources: tuple[str, ...]
    figures: tuple[Figure, ...]
    steps: tuple[Step, ...]
    alone: tuple[str, ...]
    groups: tuple[tuple[str, ...], ...]
    drift_hides_cents_per_oct: float
    sentences: tuple[str, ...]

    def figure(self, what: str, kind: Kind, *names: str) -> Figure:
        """Look a figure up."""
        return next(
            f for f in self.figures if f.what == what and f.kind == kind and f.names == names
        )


def whose_error(evidence: Evidence) -> Whose:
    """Separate what is common from what is each one's own, as far as the measurements allow.

    Raises
    ------
    InputError
        Where the surveys share no note, or something is said of a name that no survey has.
    """
    projection, found = tables(evidence.sweeps)
    oscillators = tuple(dict.fromkeys(table.oscillator for table in found))
    sources = tuple(dict.fromkeys(table.source for table in found))
    _check_names(evidence, oscillators, sources)
    solution = solve(equations(evidence, projection, found))
    kinds = (SCALE, DROOP) if projection.has_droop else (SCALE,)
    figures = tuple(
        figure for kind in kinds for figure in _figures(kind, solution, found, evidence.straight)
    )
    whose = Whose(
        notes=tuple(map(float, projection.notes)),
        oscillators=oscillators,
        sources=sources,
        figures=figures,
        steps=steps(projection, found),
        alone=tuple(s for s in sources if len({t.oscillator for t in found if t.source == s}) == 1),
        groups=_groups(found),
        drift_hides_cents_per_oct=max(table.drift_hides_cents_per_oct for table in found),
        sentences=(),
    )
    return replace(whose, sentences=sentences(whose))


def _check_names(evidence: Evidence, oscillators: Sequence[str], sources: Sequence[str]) -> None:
    both = set(oscillators) & set(sources)
    if both:
        raise InputError(
            f"{min(both)} is named as an oscillator and as a source", do="Rename one of them"
        )
    said = {voltage.source: "a voltage" for voltage in evidence.voltages}
    for name, what in said.items():
        if name not in sources:
            raise InputError(
                f"There is {what} of {name}, through which nothing was surveyed",
                do=f"Name one of {', '.join(sources)}",
            )
    for name in [*(known.name for known in evidence.known), *evidence.straight]:
        if name not in (*oscillators, *sources):
            raise InputError(
                f"Something is said of {name}, which no survey has",
                do=f"Name one of {', '.join((*oscillators, *sources))}",
            )


def equations(evidence: Evidence, projection: Projection, found: Sequence[Table]) -> list[Equation]:
    """All that is known, as equations between everyone's own terms."""
    rows: list[Equation] = []
    for table in found:
        terms, covariance = table.terms[1:], table.u_terms2[1:, 1:]
        # Scale and droop of one survey hang together; whitened, they are equations of their own.
        root = np.linalg.inv(np.linalg.cholesky(covariance))
        kinds = (SCALE, DROOP)[: len(terms)]
        for line in root:
            coefficients: dict[Unknown, float] = {}
            for kind, weight in zip(kinds, line, strict=True):
                coefficients[kind, table.oscillator] = float(weight)
                if kind == SCALE or table.source not in evidence.straight:
                    coefficients[kind, table.source] = float(weight)
            rows.append(Equation(coefficients, float(line @ terms), 1.0))
    rows += _voltage_equations(evidence, projection, found)
    if evidence.meter.u_gain is not None:
        rows.append(Equation({("gain",): 1.0}, 0.0, max(evidence.meter.u_gain, _SURE)))
    for known in evidence.known:
        rows += known_equations(known, projection)
    return rows


def known_equations(known: Known, projection: Projection) -> list[Equation]:
    """What is known of one's scale, and droop."""
    rows = [Equation({(SCALE, known.name): 1.0}, known.scale_cents_per_oct, known.u_scale)]
    if projection.has_droop and known.high_cents_per_khz is not None and known.u_high is not None:
        rows.append(Equation({(DROOP, known.name): 1.0}, known.high_cents_per_khz, known.u_high))
    return rows


def _voltage_equations(
    evidence: Evidence, projection: Projection, found: Sequence[Table]
) -> list[Equation]:
    """Voltages of sources, each with what the source does beside line and droop at that note."""
    rows: list[Equation] = []
    for voltage in evidence.voltages:
        octaves, khz = projection.row(voltage.note)
        coefficients: dict[Unknown, float] = {
            ("offset", voltage.source): 1.0,
            (SCALE, voltage.source): octaves,
            ("beside", voltage.source, f"{voltage.note:g}"): 1.0,
            # Of the voltage read: nominal, because a gain error times an error is nothing.
            ("gain",): 1200.0 * (voltage.note - voltage.note_at_0_v) / 12.0,
        }
        if projection.has_droop and voltage.source not in evidence.straight:
            coefficients[DROOP, voltage.source] = khz
        rows.append(Equation(coefficients, voltage.cents, 1200.0 * evidence.meter.u_v))
    places = dict.fromkeys((voltage.source, voltage.note) for voltage in evidence.voltages)
    for source, note in places:
        heard, u = _beside(source, note, projection, found)
        rows.append(Equation({("beside", source, f"{note:g}"): 1.0}, heard, u))
    return rows


def _beside(
    source: str, note: float, projection: Projection, found: Sequence[Table]
) -> tuple[float, float]:
    """What a source does at a note beside line and droop, as heard; and how sure that is."""
    by_oscillator: dict[str, list[Table]] = {}
    for table in found:
        if table.source == source:
            by_oscillator.setdefault(table.oscillator, []).append(table)
    each = np.array([np.mean([t.residual for t in ts], axis=0) for ts in by_oscillator.values()])
    common = each.mean(axis=0)
    spare = len(projection.notes) - projection.shapes.shape[1]
    size = math.sqrt(float((common**2).sum()) / max(1, spare))
    here = np.flatnonzero(projection.notes == note)
    if not len(here):
        # Not played: whatever it does is of the size of what it does elsewhere.
        return 0.0, max(size, 1e-3)
    if len(each) == 1:
        # All of the residual may be the oscillator's.
        return float(common[here[0]]), max(size, 1e-3)
    apart = float(((each - common) ** 2).sum()) / max(1, (len(each) - 1) * spare)
    return float(common[here[0]]), max(math.sqrt(apart / len(each)), 1e-3)


def _figures(
    kind: Kind, solution: Solution, found: Sequence[Table], straight: Sequence[str]
) -> list[Figure]:
    oscillators = tuple(dict.fromkeys(table.oscillator for table in found))
    sources = tuple(dict.fromkeys(table.source for table in found))
    level = [name for name in sources if kind == SCALE or name not in straight]

    def figure(what: str, names: tuple[str, ...], sum_of: Mapping[Unknown, float]) -> Figure:
        told = solution.figure(sum_of)
        return Figure(what, kind, names, *(told if told is not None else (None, None)))

    figures = [figure("own", (name,), {(kind, name): 1.0}) for name in (*oscillators, *level)]
    figures += [Figure("own", kind, (name,), 0.0, 0.0) for name in sources if name not in level]
    for oscillator, source in dict.fromkeys((t.oscillator, t.source) for t in found):
        sum_of: dict[Unknown, float] = {(kind, oscillator): 1.0}
        if source in level:
            sum_of[kind, source] = 1.0
        figures.append(figure("together", (oscillator, source), sum_of))
    for group in (oscillators, level):
        for one, other in combinations(group, 2):
            figures.append(figure("apart", (one, other), {(kind, one): 1.0, (kind, other): -1.0}))
    return figures


def _groups(found: Sequence[Table]) -> tuple[tuple[str, ...], ...]:
    """Names that surveys connect, directly or through others."""
    groups: list[set[str]] = []
    for table in found:
        joined = {table.oscillator, table.source}
        apart = [group for group in groups if not group & joined]
        for group in groups:
            if group & joined:
                joined |= group
        groups = [*apart, joined]
    names = dict.fromkeys([*(t.oscillator for t in found), *(t.source for t in found)])
    ordered = [tuple(name for name in names if name in group) for group in groups]
    return tuple(sorted(ordered, key=lambda group: list(names).index(group[0])))
