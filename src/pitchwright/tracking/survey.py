"""The survey of one oscillator: readings in, everything known about its tracking out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.tracking.advice import Advised, PlayAgain, advise
from pitchwright.tracking.best import BestPossible, best_possible
from pitchwright.tracking.choose import fit_model
from pitchwright.tracking.conformity import CommonPart, JudgedCurve, judge
from pitchwright.tracking.course import TYPICAL_RETURN, Course, Returning, course_of
from pitchwright.tracking.curve import CurveEntry, TrackingCurve, tracking_curve
from pitchwright.tracking.findings import Finding, find, plain, signed
from pitchwright.tracking.keys import AllKeys, all_keys
from pitchwright.tracking.model import TermState, TrackingModel
from pitchwright.tracking.point import Point
from pitchwright.tracking.reach import Reach, reach
from pitchwright.tracking.readings import Readings
from pitchwright.tracking.robust import far_off
from pitchwright.tracking.target import TargetCurve
from pitchwright.units import cents_from_ppm, note_name

__all__ = ["OscillatorSurvey", "survey_oscillator"]


@dataclass(frozen=True, slots=True)
class OscillatorSurvey:
    """All that a survey knows of one oscillator.

    Attributes
    ----------
    name
        The oscillator's name.
    target
        What the curve is measured against.
    curve
        The tracking curve: one entry a note, and the readings left out.
    model
        The fitted model.
    reaches
        One for each tolerance, in the order asked.
    worst
        The note farthest from the target, in doubt or not.
    best
        What base, scale and high-end trimmers together could leave.
    advised
        What to turn and what to play, in order.
    findings
        What was found out while it was measured, doubts first.
    course
        How all notes moved while they were measured.
    u_common_cents
        Standard uncertainty common to all notes (the clock's); 0 where the target cancels it.
    """

    name: str
    target: TargetCurve
    curve: TrackingCurve
    model: TrackingModel
    reaches: tuple[Reach, ...]
    worst: CurveEntry
    best: BestPossible
    advised: tuple[Advised, ...]
    findings: tuple[Finding, ...]
    course: Course
    u_common_cents: float

    @property
    def advice(self) -> tuple[str, ...]:
        """What to turn and what to play, sentence by sentence."""
        return tuple(one.sentence for one in self.advised)

    @property
    def all_keys(self) -> AllKeys | None:
        """Within what all keys lie together, those between the notes played included."""
        sure = self.curve.trusted or self.curve.entries
        return all_keys(sure, self.model, self.course, self.u_common_cents)

    @property
    def worst_trusted(self) -> CurveEntry:
        """The note farthest from the target of those that do not look like mistakes."""
        sure = self.curve.trusted or self.curve.entries
        return max(sure, key=lambda entry: abs(entry.cents))

    @property
    def best_possible_cents(self) -> float:
        """Greatest error that the three trimmers together would leave at the notes measured."""
        return self.best.max_error_cents

    def reach_at(self, tolerance_cents: float) -> Reach:
        """Reach at a tolerance, asked for beforehand or not."""
        return reach(self.judged(tolerance_cents))

    def judged(self, tolerance_cents: float) -> JudgedCurve:
        """The curve against a tolerance, the common uncertainty counted in."""
        return judge(self.curve.entries, tolerance_cents, CommonPart(self.u_common_cents))

    @property
    def headline(self) -> str:
        """The one sentence that matters most."""
        entries = self.curve.entries
        if len(entries) == 1:
            only = entries[0]
            return (
                f"{self.name} is {_off(only.cents)} at {note_name(only.note)}, "
                "the one note measured."
            )
        span = f"from {note_name(entries[0].note)} to {note_name(entries[-1].note)}"
        whole = [r for r in self.reaches if r.whole]
        if whole:
            within = min(r.tolerance_cents for r in whole)
            return (
                f"{self.name} is within ±{within:g} cent{_s(within)} at every note measured {span}."
            )
        worst = self.worst_trusted
        doubted = [note_name(entry.note) for entry in entries if entry.doubt]
        doubt = f"; {' and '.join(doubted)} {'are' if len(doubted) > 1 else 'is'} in doubt"
        return (
            f"{self.name} is {_off(worst.cents)} at {note_name(worst.note)}, its worst note of "
            f"{len(entries)} {span}{doubt if doubted else ''}."
        )

    def sentences(self) -> tuple[str, ...]:
        """Everything in plain words, the most important first."""
        model = self.model
        lines = [self.headline, *(one.sentence for one in self.findings if one.doubt)]
        lines.append(f"Measured against {self.target.words}.")
        lines.append(
            f"Base is {_off(model.base_cents)} ± {plain(model.base.expanded)} at "
            f"{note_name(model.ref_note)}."
        )
        if model.scale_cents_per_oct is not None:
            lines.append(_scale_sentence(model))
            lines.append(_high_sentence(model))
        if model.low.state is TermState.KEPT and model.low_cents_at_bottom is not None:
            lines.append(
                f"The low end bends by {signed(model.low_cents_at_bottom)} cents at the lowest "
                "note, as a leakage current makes it."
            )
        lines.extend(one.sentence for one in self.findings if not one.doubt)
        if model.drift.state is TermState.UNDETERMINED and model.drift.add_note is None:
            lines.append(model.drift.why)
        if model.notes > 2 and model.dof > 0:
            lines.append(
                f"The model leaves at most {plain(model.residual_max_cents)} cents at any note. "
                f"{model.base.why}"
            )
        else:
            lines.append(model.base.why)
        lines.extend(_reach_sentences(self.reaches))
        gap = max((r.widest_gap for r in self.reaches), default=0.0)
        if gap > 1.0:
            lines.append(
                f"Only measured notes count in that: between them, up to {gap:g} semitones, "
                "nothing is claimed."
            )
        together = self.all_keys
        if together is not None:
            lines.append(together.sentence)
        if len(self.curve.trusted) > len(self.best.trimmers):
            lines.append(
                f"The best that base, scale and high-end trimmers together could do at these "
                f"notes is ±{plain(self.best_possible_cents)} cents."
            )
        else:
            lines.append("With so few notes, the best that the trimmers could do is not known.")
        lines.extend(entry.doubt for entry in self.curve.entries if entry.doubt)
        if self.curve.left_out:
            count = len(self.curve.left_out)
            lines.append(
                f"{count} reading{' was' if count == 1 else 's were'} left out: "
                + " ".join(dict.fromkeys(out.why for out in self.curve.left_out))
            )
        return tuple(lines)


def survey_oscillator(
    name: str,
    points: Sequence[Point],
    *,
    target: TargetCurve | None = None,
    tolerances: Sequence[float] = (1.0, 2.0, 5.0),
    clock_ppm: float = 0.0,
    returning: Returning = TYPICAL_RETURN,
) -> OscillatorSurvey:
    """Survey one oscillator from its readings.

    Parameters
    ----------
    name
        The oscillator's name, for sentences.
    points
        Its readings in any order; one or more kept.
    target
        What the curve should be; equal temperament at A4 = 440 Hz unless said otherwise.
    tolerances
        Tolerances in cents for which the reach is wanted, above zero; at least one.
    clock_ppm
        Standard uncertainty of the recorder's clock in parts per million, 0 where a reference
        channel cancels it.
    returning
        How well its notes come back when played again, as earlier surveys showed it.

    Raises
    ------
    InputError
        Where no reading can be used, a number is impossible, or the target does not cover a note.
    """
    if not tolerances or any(not (math.isfinite(t) and t > 0.0) for t in tolerances):
        raise InputError("Tolerances must be above zero cents", name, "Give for example 1, 2, 5")
    if not (math.isfinite(clock_ppm) and 0.0 <= clock_ppm < 1e5):
        raise InputError(f"The clock cannot be off by {clock_ppm:g} ppm", name)
    target = target or TargetCurve.flat()
    try:
        readings = Readings.of(points, target)
    except InputError as error:
        raise InputError(error.what, name, error.do) from error
    mistaken, distance, course = _what_happened(readings, returning)
    trusted = readings.where(~mistaken)
    model = fit_model(trusted, course, clock_ppm=clock_ppm)
    curve = tracking_curve(points, readings, mistaken, distance, course, target)
    findings = find(course, trusted)
    common = cents_from_ppm(clock_ppm) if target.absolute else 0.0
    reaches = tuple(
        reach(judge(curve.entries, tolerance, CommonPart(common))) for tolerance in tolerances
    )
    sure = curve.trusted or curve.entries
    return OscillatorSurvey(
        name=name,
        target=target,
        curve=curve,
        model=model,
        reaches=reaches,
        worst=max(curve.entries, key=lambda entry: abs(entry.cents)),
        best=best_possible(sure, model.v_ref),
        advised=(
            *_play_again(curve.entries),
            *advise(sure, model, min(reaches, key=lambda r: r.tolerance_cents), findings),
        ),
        findings=findings,
        course=course,
        u_common_cents=common,
    )


def _what_happened(
    readings: Readings, returning: Returning
) -> tuple[NDArray[np.bool_], NDArray[np.float64], Course]:
    """Which notes are mistakes, how far each reading lies, and what moved the others.

    Mistakes are looked for again once the course is known: what moved all notes is none of theirs.
    """
    mistaken, distance = far_off(readings)
    course = course_of(readings.where(~mistaken), returning)
    sure = readings.where(~mistaken)
    in_order = np.argsort(sure.t_s, kind="stable")
    moved = np.interp(readings.t_s, sure.t_s[in_order], course.moved_cents[in_order])
    moved[~mistaken] = course.moved_cents
    again, distance = far_off(replace(readings, cents=readings.cents - moved))
    if (again != mistaken).any():
        course = course_of(readings.where(~again), returning)
    return again, distance, course


def _play_again(entries: Sequence[CurveEntry]) -> tuple[PlayAgain, ...]:
    notes = tuple(entry.note for entry in entries if entry.doubt)
    return (PlayAgain(notes),) if notes else ()


def _reach_sentences(reaches: Sequence[Reach]) -> list[str]:
    """One sentence a reach; those without a single note, which end alike, in one together."""
    nowhere = [r for r in reaches if r.low is None]
    lines = [r.sentence for r in reaches if r.low is not None]
    if nowhere:
        widest = max(nowhere, key=lambda r: r.tolerance_cents)
        lines.insert(0, widest.sentence)
    return lines


def _scale_sentence(model: TrackingModel) -> str:
    scale, term = model.scale_cents_per_oct or 0.0, model.scale
    text = f"Scale is {signed(scale)} ± {plain(term.expanded)} cents per octave"
    if abs(scale) > (term.expanded or math.inf):
        text += ": its octaves are too wide" if scale > 0 else ": its octaves are too narrow"
    return f"{text}. {term.why}".strip()


def _high_sentence(model: TrackingModel) -> str:
    at_top = model.high_cents_at_top
    if model.high.state is not TermState.KEPT or at_top is None:
        return model.high.why
    per_khz, u = model.high_cents_per_khz or 0.0, model.u_high_cents_per_khz or 0.0
    factor = (model.high.expanded or 0.0) / (model.high.u or 1.0)
    way = "falls flat" if at_top < 0 else "runs sharp"
    return (
        f"The high end {way}: {signed(at_top)} cents at the highest note, {signed(per_khz)} ± "
        f"{plain(factor * u)} cents per kHz."
    )


def _off(cents: float) -> str:
    size = f"{abs(cents):.2f}" if abs(cents) < 9.95 else f"{abs(cents):.1f}"
    if float(size) == 0.0:
        return "in tune"
    return f"{size} cents {'sharp' if cents > 0 else 'flat'}"


def _s(cents: float) -> str:
    return "" if cents == 1.0 else "s"
