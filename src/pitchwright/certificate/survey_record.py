"""A survey as plain values: what ``survey --json`` prints and its CSV holds.

The schema is published in docs/schema/survey.schema.json; a change that is not an addition gets a
new number in ``SURVEY_SCHEMA``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any, Final

from pitchwright.tracking import OscillatorSurvey, Reach, Term, TermState, TrackingModel
from pitchwright.units import note_name

__all__ = ["CURVE_HEADINGS", "SURVEY_SCHEMA", "curve_rows", "finite", "oscillator_record"]

SURVEY_SCHEMA: Final = "pitchwright survey 1"

CURVE_HEADINGS: Final = (
    "oscillator",
    "note",
    "midi_note",
    "cv_v",
    "f_hz",
    "cents",
    "u_cents",
    "U_cents",
    "readings",
    "doubt",
)


def finite(figure: float | None) -> float | None:
    """The figure, or None where it is unknown, infinite or not a number: JSON has none of these."""
    return figure if figure is not None and math.isfinite(figure) else None


def oscillator_record(survey: OscillatorSurvey) -> dict[str, Any]:
    """One oscillator's survey as JSON-able values; cents, volts, hertz and seconds throughout."""
    return {
        "name": survey.name,
        "target": survey.target.words,
        "curve": [
            {
                "note": note_name(entry.note),
                "midi_note": entry.note,
                "cv_v": entry.cv_v,
                "f_hz": entry.f_hz,
                "cents": entry.cents,
                "u_cents": entry.u_cents,
                "expanded_cents": finite(entry.expanded_cents),
                "readings": entry.readings,
                "doubt": entry.doubt,
            }
            for entry in survey.curve.entries
        ],
        "left_out": [
            {
                "note": note_name(out.point.note),
                "midi_note": out.point.note,
                "t_s": out.point.t_s,
                "f_hz": out.point.f_hz,
                "why": out.why,
            }
            for out in survey.curve.left_out
        ],
        "model": _model(survey.model),
        "reach": [_reach(reach) for reach in survey.reaches],
        "worst": {
            "note": note_name(survey.worst.note),
            "midi_note": survey.worst.note,
            "cents": survey.worst.cents,
            "u_cents": survey.worst.u_cents,
        },
        "best_possible_cents": survey.best_possible_cents,
        "u_common_cents": survey.u_common_cents,
        "advice": list(survey.advice),
        "all_keys": None if survey.all_keys is None else asdict(survey.all_keys),
        "advised": [
            {"kind": one.kind, **asdict(one), "sentence": one.sentence} for one in survey.advised
        ],
        "findings": [
            {"kind": one.kind, "doubt": one.doubt, **asdict(one), "sentence": one.sentence}
            for one in survey.findings
        ],
        "sentences": list(survey.sentences()),
    }


def curve_rows(
    surveys: Sequence[OscillatorSurvey],
) -> list[tuple[str | float | int, ...]]:
    """The tracking curves as rows under `CURVE_HEADINGS`; ``U_cents`` covers 95.45 %."""
    return [
        (
            survey.name,
            note_name(entry.note),
            entry.note,
            entry.cv_v,
            entry.f_hz,
            entry.cents,
            entry.u_cents,
            entry.expanded_cents,
            entry.readings,
            entry.doubt,
        )
        for survey in surveys
        for entry in survey.curve.entries
    ]


def _model(model: TrackingModel) -> dict[str, Any]:
    record: dict[str, Any] = {
        "reference_note": note_name(model.ref_note),
        "v_ref": model.v_ref,
        "base_cents": model.base_cents,
        "u_base_cents": finite(model.u_base_cents),
        "scale_cents_per_oct": model.scale_cents_per_oct,
        "u_scale_cents_per_oct": finite(model.u_scale_cents_per_oct),
        "high_ns": model.high_ns,
        "u_high_ns": finite(model.u_high_ns),
        "high_cents_per_khz": model.high_cents_per_khz,
        "u_high_cents_per_khz": finite(model.u_high_cents_per_khz),
        "high_cents_at_top": model.high_cents_at_top,
        "residual_max_cents": model.residual_max_cents,
        "residual_dof": model.dof,
        "terms": [_term(term) for term in model.terms],
    }
    if model.low.state is TermState.KEPT:
        record["low_cents_hz"] = model.low.value
        record["u_low_cents_hz"] = model.low.u
    if model.drift.state is TermState.KEPT:
        record["drift_cents_per_min"] = model.drift.value
        record["u_drift_cents_per_min"] = model.drift.u
    return record


def _term(term: Term) -> dict[str, Any]:
    return {
        "term": term.name,
        "state": term.state.value,
        "why": term.why,
        "add_note": None if term.add_note is None else note_name(term.add_note),
    }


def _reach(reach: Reach) -> dict[str, Any]:
    return {
        "tolerance_cents": reach.tolerance_cents,
        "low": None if reach.low is None else note_name(reach.low),
        "high": None if reach.high is None else note_name(reach.high),
        "low_midi_note": reach.low,
        "high_midi_note": reach.high,
        "notes": reach.notes,
        "widest_gap_semitones": reach.widest_gap,
    }
