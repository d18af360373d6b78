"""Fitting the model: which terms earn their place, and what the notes cannot tell."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import Final, overload

import numpy as np
from numpy.typing import NDArray

from pitchwright.tracking.course import Course, Happening, course_of
from pitchwright.tracking.coverage import coverage_factor, expanded_u
from pitchwright.tracking.fit import (
    Fit,
    NoteGroups,
    fit,
    minus_two_log_likelihood,
    sensitivity,
)
from pitchwright.tracking.model import (
    Term,
    TermState,
    TrackingModel,
    high_end_cents,
)
from pitchwright.tracking.readings import Readings
from pitchwright.units import MIDDLE_C, cents_from_ppm, note_name, note_to_hz

__all__ = ["fit_model"]

Array = NDArray[np.float64]

_TYPICAL_DROOP: Final = 3.0
"""Cents per kHz: standard deviation of an unknown high end (droop is 2 to 6 as a rule)."""
_VAGUE: Final = {"high": 2.0, "low": 2.0}
"""A term counts as determined where U is within this: cents per kHz; cents at C1 for low."""
_UNIT: Final = {"high": 1000.0, "low": note_to_hz(24.0)}
_TYPICAL_SCATTER_CENTS: Final = 0.3
"""What sources put on single notes as a rule (a judgement of ours)."""
_LEAST_ROOM: Final = 3
_EARNED: Final = 0.7
_HIGHEST_NOTE: Final = 108
"""C8: no keyboard goes further."""
_DRIFT_KNOWN_CENTS: Final = 1.0
"""Drift over the survey is known where U is within this."""
_LN2: Final = math.log(2.0)


@dataclass(frozen=True, slots=True)
class _Basis:
    """The readings with what every candidate model shares."""

    readings: Readings
    groups: NoteGroups
    v_ref: float
    f_ref_hz: float
    t_ref_s: float
    scale: bool
    fitted: dict[tuple[tuple[str, ...], float], Fit] = field(default_factory=dict)

    @property
    def names(self) -> tuple[str, ...]:
        return ("base",) + ("scale",) * self.scale

    def column(self, name: str) -> Array:
        r = self.readings
        match name:
            case "base":
                return np.ones_like(r.cv_v)
            case "scale":
                return r.cv_v - self.v_ref
            case "high":
                return (r.f_hz - self.f_ref_hz) / _UNIT["high"]
            case _:
                return _UNIT["low"] / r.f_hz - _UNIT["low"] / self.f_ref_hz

    def columns(self, extra: tuple[str, ...] = ()) -> Array:
        return np.column_stack([self.column(name) for name in (*self.names, *extra)])

    def fit(self, extra: tuple[str, ...] = (), least_scatter: float = 0.0) -> Fit:
        key = (extra, least_scatter)
        if key not in self.fitted:
            self.fitted[key] = fit(
                self.columns(extra),
                self.readings.cents,
                self.groups,
                least_scatter=least_scatter,
            )
        return self.fitted[key]


def fit_model(
    readings: Readings, course: Course | None = None, *, clock_ppm: float = 0.0
) -> TrackingModel:
    """Fit the model to readings by weighted least squares, what moved them all taken off.

    Parameters
    ----------
    readings
        One or more; those named as mistakes taken out.
    course
        What happened while they were taken; worked out where it is not given.
    clock_ppm
        Standard uncertainty of the sample clock in parts per million, where no reference channel
        cancels it. It touches base only.
    """
    course = course or course_of(readings)
    readings = replace(readings, cents=readings.cents - course.moved_cents)
    groups = NoteGroups.of(readings.note, readings.u_cents, course.returning.cents)
    ref_note, v_ref = _reference(readings)
    basis = _Basis(
        readings,
        groups,
        v_ref,
        _heard_at(readings, ref_note),
        float((readings.t_s.min() + readings.t_s.max()) / 2.0),
        scale=float(np.ptp(readings.cv_v)) > 1e-6 and groups.count > 1,
    )
    vague = {name: _vague(basis, name) for name in ("high", "low")}
    # A leakage is named only where it is likelier than what else bends the lowest notes.
    unlikely = {"low"} if course.low_odds < _EARNED else set()
    extra = _earning(
        basis, tuple(name for name in ("high", "low") if not vague[name] and name not in unlikely)
    )
    fitted, high_ns = _with_exact_high_end(basis, extra)
    names = (*basis.names, *extra)

    # What moved all notes, how they come back and how they lie about the model: averaged over all
    # that could be, on the figures as they were fitted. What was left out but may be there counts.
    each = np.eye(len(readings.cents))
    gain = np.column_stack([_taken_up(basis, extra, fitted, one) for one in each])
    moved, covariance = course.unsure(gain)
    hidden = float(moved[1]) ** 2 if basis.scale else 0.0
    high_square = 0.0
    if "high" not in extra:
        high_square = _likely_droop_square(basis, extra)
        taken_up = _taken_up(basis, extra, fitted, math.sqrt(high_square) * basis.column("high"))
        covariance += np.outer(taken_up, taken_up)
        hidden += float(taken_up[1]) ** 2 if basis.scale else 0.0
    covariance[0, 0] += cents_from_ppm(clock_ppm) ** 2

    # From the working units (cents per kHz, cents at C1) to those of the terms.
    unit = np.array([_unit_of(name, high_ns) for name in names])
    value = dict(zip(names, fitted.coefficients * unit, strict=True))
    value["high"] = high_ns
    covariance = covariance * np.outer(unit, unit)
    # How far notes lie from the model shows in those that are over, how they return in repeats.
    # Where no note is over, it is the priors that are averaged, and they cover what they say.
    dof = fitted.dof + course.returning.dof if fitted.dof > 0 else math.inf

    def kept(name: str, why: str) -> Term:
        k = names.index(name)
        variance = float(covariance[k, k])
        return Term(name, TermState.KEPT, float(value[name]), math.sqrt(variance), dof, why)

    return TrackingModel(
        base=kept("base", _base_why(fitted, groups)),
        scale=kept("scale", _scale_why(fitted, math.sqrt(hidden)))
        if basis.scale
        else _no_scale(readings),
        high=kept("high", "The high end shows clearly in the notes played.")
        if "high" in extra
        else _no_high(basis, vague["high"], high_square),
        low=kept("low", "The lowest notes bend away as a leakage current makes them.")
        if "low" in extra
        else _no_low(vague["low"], readings),
        drift=_drift(course, readings),
        names=names,
        covariance=covariance,
        ref_note=ref_note,
        v_ref=v_ref,
        f_ref_hz=basis.f_ref_hz,
        t_ref_s=basis.t_ref_s,
        top_hz=float(readings.f_hz.max()),
        bottom_hz=float(readings.f_hz.min()),
        residual_max_cents=float(np.abs(fitted.residuals).max()),
        note_scatter_cents=fitted.note_scatter,
        visit_scatter_cents=course.returning.cents,
        dof=max(fitted.dof, 0),
        notes=groups.count,
        hidden_scale_cents_per_oct=math.sqrt(hidden),
    )


def _reference(readings: Readings) -> tuple[float, float]:
    """Reference note and its voltage: middle C inside the notes played, else the middle one."""
    low, high = float(readings.note.min()), float(readings.note.max())
    note = float(MIDDLE_C)
    if not low <= note <= high:
        note = float(readings.note[np.abs(readings.note - (low + high) / 2.0).argmin()])
    nearest = int(np.abs(readings.note - note).argmin())
    return note, float(readings.cv_v[nearest] + (note - readings.note[nearest]) / 12.0)


def _heard_at(readings: Readings, note: float) -> float:
    nearest = int(np.abs(readings.note - note).argmin())
    return float(readings.f_hz[nearest] * math.exp2((note - readings.note[nearest]) / 12.0))


def _expanded(fitted: Fit) -> tuple[float, float]:
    """Standard and expanded uncertainty of the last coefficient."""
    last = np.zeros(len(fitted.coefficients))
    last[-1] = 1.0
    u = fitted.u(last)
    return u, coverage_factor(fitted.effective_dof(last)) * u


def _vague(basis: _Basis, name: str) -> bool:
    """Whether the notes played cannot determine a term.

    Asked with the scatter that sources have as a rule, where less was seen: a few notes that
    happen to lie on a curve must not pass for certainty.
    """
    if not basis.scale or basis.groups.count < 4:
        return True
    try:
        fitted = basis.fit((name,), least_scatter=_TYPICAL_SCATTER_CENTS)
    except np.linalg.LinAlgError:
        return True
    return bool(_expanded(fitted)[1] > _VAGUE[name])


def _earning(basis: _Basis, candidates: tuple[str, ...]) -> tuple[str, ...]:
    """Terms that lower the corrected Akaike criterion and are clear of zero."""
    best: tuple[str, ...] = ()
    best_score = _score(basis, ())
    for size in range(1, len(candidates) + 1):
        for extra in combinations(candidates, size):
            try:
                score = _score(basis, extra)
            except np.linalg.LinAlgError:
                continue
            if score < best_score and _clear_of_zero(basis, extra, 0.9545):
                best, best_score = extra, score
    return best


def _score(basis: _Basis, extra: tuple[str, ...]) -> float:
    """Akaike's criterion: corrected for few notes where the scatter had to be estimated."""
    columns = basis.columns(extra)
    scattered = basis.fit(extra).note_scatter > 0.0
    score = minus_two_log_likelihood(columns, basis.readings.cents, basis.groups)
    count: int = columns.shape[1] + scattered
    score += 2.0 * count
    if not scattered:
        return score
    room = basis.groups.count - count - 1
    if room >= _LEAST_ROOM or not extra:
        return score + 2.0 * count * (count + 1) / max(room, _LEAST_ROOM)
    # Too few notes for the correction: a term must then be clear of zero at 99 %.
    return score if _clear_of_zero(basis, extra, 0.99) else math.inf


def _clear_of_zero(basis: _Basis, extra: tuple[str, ...], probability: float) -> bool:
    fitted = basis.fit(extra)
    count: int = len(fitted.coefficients)
    for k in range(count - len(extra), count):
        direction = np.eye(count)[k]
        factor = coverage_factor(fitted.effective_dof(direction), probability)
        if abs(fitted.coefficients[k]) < factor * fitted.u(direction):
            return False
    return True


def _with_exact_high_end(basis: _Basis, extra: tuple[str, ...]) -> tuple[Fit, float]:
    """Fit with 1200·log2(1 - f·t) itself, by repeated linearization; t in nanoseconds."""
    fitted = basis.fit(extra)
    if "high" not in extra:
        return fitted, 0.0
    r, k = basis.readings, (*basis.names, *extra).index("high")
    limit = 0.5e9 / float(r.f_hz.max())
    high_ns = 0.0
    for _ in range(8):
        slope = _slope_per_ns(r.f_hz, high_ns) - _slope_per_ns(basis.f_ref_hz, high_ns)
        # In cents per kHz, so that the coefficient keeps its unit.
        columns = basis.columns(extra)
        columns[:, k] = slope * _ns_per_cent_per_khz(high_ns)
        bend = high_end_cents(r.f_hz, high_ns) - high_end_cents(basis.f_ref_hz, high_ns)
        values = r.cents - bend + slope * high_ns
        fitted = fit(columns, values, basis.groups)
        step = float(fitted.coefficients[k]) * _ns_per_cent_per_khz(high_ns)
        moved, high_ns = abs(step - high_ns), float(np.clip(step, -limit, limit))
        if moved < 1e-4:
            break
    return fitted, high_ns


@overload
def _slope_per_ns(f_hz: float, high_ns: float) -> float: ...
@overload
def _slope_per_ns(f_hz: Array, high_ns: float) -> Array: ...
def _slope_per_ns(f_hz: float | Array, high_ns: float) -> float | Array:
    return -1200.0 / _LN2 * f_hz * 1e-9 / (1.0 - f_hz * high_ns * 1e-9)


def _ns_per_cent_per_khz(high_ns: float) -> float:
    return -_LN2 / 1200.0 * 1e6 * (1.0 - 1e-6 * high_ns)


def _unit_of(name: str, high_ns: float) -> float:
    if name == "high":
        return _ns_per_cent_per_khz(high_ns)
    return _UNIT["low"] if name == "low" else 1.0


def _likely_droop_square(basis: _Basis, extra: tuple[str, ...]) -> float:
    """Mean square of a high end that may be there though it was left out, (cents per kHz)²."""
    prior = _TYPICAL_DROOP**2
    try:
        fitted = basis.fit((*extra, "high"))
    except np.linalg.LinAlgError:
        return prior
    known, c = _expanded(fitted)[0] ** 2, float(fitted.coefficients[-1])
    if fitted.dof < 1:
        return prior
    variance = prior * known / (prior + known)
    return float((c * prior / (prior + known)) ** 2 + variance)


def _base_why(fitted: Fit, groups: NoteGroups) -> str:
    if groups.count == 1:
        return "One note tells base only."
    if fitted.dof < 1:
        return (
            "There are no more notes than terms, so nothing shows how far notes scatter: "
            "the uncertainty rests on the readings alone."
        )
    if fitted.note_scatter > 0.0:
        return (
            f"Notes scatter about the model by {fitted.note_scatter:.2f} cents more than their "
            "readings explain; the uncertainties include it."
        )
    return "Notes lie on the model within the uncertainty of their readings."


def _scale_why(fitted: Fit, hidden: float) -> str:
    reasons = []
    if fitted.dof < 1:
        reasons.append("It rests on as many notes as terms: one more note would check it.")
    if hidden > 0.05:
        reasons.append(
            f"Of its uncertainty, ±{expanded_u(hidden):.2f} stands for droop or drift that these "
            "notes cannot show."
        )
    return " ".join(reasons)


def _no_scale(readings: Readings) -> Term:
    note = round(float(readings.note[0]))
    add = note + 24 if note + 24 <= 96 else note - 24
    why = f"One note cannot show the scale: add {note_name(add)}."
    return Term("scale", TermState.UNDETERMINED, None, None, math.inf, why, add)


def _no_high(basis: _Basis, vague: bool, square: float) -> Term:
    if not vague:
        u_ns = abs(_ns_per_cent_per_khz(0.0)) * math.sqrt(square)
        why = f"No droop to be seen: the high end is within {math.sqrt(square):.2g} cents per kHz."
        return Term("high", TermState.NOT_NEEDED, 0.0, u_ns, math.inf, why)
    top = float(basis.readings.note.max())
    add = _note_for_high_end(basis)
    why = (
        f"The notes played, up to {note_name(top)} ({basis.readings.f_hz.max():.0f} Hz), cannot "
        "show the high end"
    )
    why += f": add {note_name(add)}." if add is not None else "."
    return Term("high", TermState.UNDETERMINED, None, None, math.inf, why, add)


def _note_for_high_end(basis: _Basis) -> int | None:
    """The C that, played as well, would determine the high end best for least climbing.

    None where a keyboard has none.
    """
    played = {round(float(n)) for n in basis.readings.note}
    top = max(played)
    above = [c for c in range(60, _HIGHEST_NOTE + 1, 12) if c > top]
    middle = [c for c in range(24, _HIGHEST_NOTE + 1, 12) if c < top and c not in played]
    if not above:
        return None
    if len(played) >= 3 or not middle:
        scatter = _scatter_to_expect(basis)
        for c in above:
            if _would_determine(basis, c, scatter):
                return c
        return above[min(1, len(above) - 1)]
    return above[0] if top < 84 else middle[-1]


def _scatter_to_expect(basis: _Basis) -> float:
    """Scatter of notes with the high end allowed for, so that droop is not taken for it."""
    if basis.groups.count < 4:
        return _TYPICAL_SCATTER_CENTS
    try:
        return basis.fit(("high",), least_scatter=_TYPICAL_SCATTER_CENTS).note_scatter
    except np.linalg.LinAlgError:
        return _TYPICAL_SCATTER_CENTS


def _would_determine(basis: _Basis, note: int, scatter: float) -> bool:
    r = basis.readings
    v = r.cv_v[0] + (note - r.note[0]) / 12.0
    f = r.f_hz[0] * math.exp2((note - r.note[0]) / 12.0)
    rows = np.column_stack(
        [np.ones(len(r.cv_v) + 1), np.append(r.cv_v, v), np.append(r.f_hz, f) / _UNIT["high"]]
    )
    inverse = np.linalg.pinv(rows.T @ rows)
    factor = coverage_factor(float(basis.groups.count + 1 - rows.shape[1]))
    return bool(factor * scatter * math.sqrt(inverse[2, 2]) <= _VAGUE["high"])


def _no_low(vague: bool, readings: Readings) -> Term:
    if not vague:
        why = "The lowest notes show no bend of their own."
        return Term("low", TermState.NOT_NEEDED, 0.0, None, math.inf, why)
    low = round(float(readings.note.min()))
    add = 24 if low > 24 else None
    why = f"The notes played, down to {note_name(low)}, cannot show a bend at the low end"
    if add is not None:
        why += f": add {note_name(add)}"
    return Term("low", TermState.UNDETERMINED, None, None, math.inf, f"{why}.", add)


def _drift(course: Course, readings: Readings) -> Term:
    """How fast it moved on the whole, and how well the notes played again tell it."""
    span_min = float(np.ptp(readings.t_s)) / 60.0
    if span_min == 0.0:
        why = "The readings carry no times, so drift cannot be told from tracking."
        return Term("drift", TermState.UNDETERMINED, None, None, math.inf, why)
    rate, u = course.rate_cents_per_min, course.u_rate_cents_per_min
    moving = course.odds[Happening.LINE] + course.odds[Happening.SETTLING]
    known = bool(course.repeats) and expanded_u(u) * span_min <= _DRIFT_KNOWN_CENTS
    if course.repeats and moving > _EARNED:
        why = f"{course.repeats} readings of notes played again show it."
        return Term("drift", TermState.KEPT, rate, u, math.inf, why)
    if known:
        within = math.hypot(rate, u)
        why = f"Notes played again came back: drift is within {within:.2g} cents per minute."
        return Term("drift", TermState.NOT_NEEDED, 0.0, within, math.inf, why)
    note = round(float(readings.note[0]))
    if course.repeats:
        why = f"Repeats do not tell drift yet: play {note_name(note)} again later."
    else:
        why = (
            f"No note was played twice, so drift cannot be told from tracking: play "
            f"{note_name(note)} again at the end, and a low and a high note too."
        )
    return Term("drift", TermState.UNDETERMINED, None, None, math.inf, why, note)


def _taken_up(basis: _Basis, extra: tuple[str, ...], fitted: Fit, column: Array) -> Array:
    return sensitivity(basis.columns(extra), column, basis.groups, fitted.note_scatter)
