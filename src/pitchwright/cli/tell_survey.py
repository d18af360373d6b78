"""A survey as it is printed: sentences and a small table, or plain values for a program."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from importlib.metadata import version
from pathlib import Path
from typing import Any

from pitchwright.certificate.survey_record import SURVEY_SCHEMA, oscillator_record
from pitchwright.cli import console
from pitchwright.cli.console import number
from pitchwright.cli.surveying import Surveyed
from pitchwright.pictures.blocks import blocks
from pitchwright.pictures.shown import shown
from pitchwright.tracking import CurveEntry, Reach, Term
from pitchwright.units import note_name

__all__ = ["record", "tell"]

_HEADINGS = ("note", "Hz", "cents", "±")
_ROWS = 14
"""Notes in one column of the table; more stand beside it."""


def record(surveyed: Sequence[Surveyed], sheets: Sequence[Path]) -> dict[str, Any]:
    """What ``--json`` prints, by docs/schema/survey.schema.json."""
    return {
        "schema": SURVEY_SCHEMA,
        "made_by": f"pitchwright {version('pitchwright')}",
        "oscillators": [
            {
                **oscillator_record(one.survey),
                "where": one.where,
                "reference": one.reference,
                "invented": one.invented,
                "doubts": list(one.doubts),
                "passed_over": [
                    {"begin_s": begin_s, "end_s": end_s, "why": why}
                    for begin_s, end_s, why in one.passed_over
                ],
                "sheet": str(sheets[place]) if sheets else None,
            }
            for place, one in enumerate(surveyed)
        ],
    }


def tell(one: Surveyed, sheet: Path | None, *, plot: bool = False) -> None:
    """Print one survey for a person."""
    survey = one.survey
    console.heading(f"{survey.name}  ({one.where}{', invented' if one.invented else ''})")
    console.sentence(survey.headline)
    console.gap()
    _tell_figures(one)
    console.gap()
    if plot:
        console.drawing(blocks(shown(survey), console.width()))
        console.gap()
    _tell_curve(survey.curve.entries)
    console.gap()
    for sentence in survey.sentences()[1:]:
        console.sentence(sentence)
    for doubt in one.doubts:
        console.sentence(doubt)
    if one.passed_over:
        console.sentence(_passed_over(one))
    console.gap()
    console.sentence("What to turn:" if len(survey.advice) > 1 else survey.advice[0])
    if len(survey.advice) > 1:
        for place, move in enumerate(survey.advice, start=1):
            console.sentence(f"{place}. {move}", indent=2)
    if sheet is not None:
        console.gap()
        console.sentence(f"Sheet: {sheet}")


def _tell_figures(one: Surveyed) -> None:
    survey = one.survey
    model = survey.model
    rows = [
        _term(f"base, cents at {note_name(model.ref_note)}", model.base),
        _term("scale, cents per octave", model.scale),
        _high(one),
        (
            f"worst note, {note_name(survey.worst.note)}, cents",
            number(survey.worst.cents, 2, sign=True),
            number(survey.worst.expanded_cents, 2),
        ),
        ("best the trimmers could do, ± cents", number(survey.best_possible_cents, 2), ""),
        *(_reach(reach) for reach in survey.reaches),
    ]
    console.table(("", "", "± (95 %)"), rows)


def _term(what: str, term: Term) -> tuple[str, str, str]:
    if term.value is None:
        return what, "unknown", ""
    expanded = term.expanded
    return what, number(term.value, 2, sign=True), "" if expanded is None else number(expanded, 2)


def _high(one: Surveyed) -> tuple[str, str, str]:
    model = one.survey.model
    per_khz, u = model.high_cents_per_khz, model.u_high_cents_per_khz
    if per_khz is None or u is None or model.high.u is None or model.high.expanded is None:
        return "high end, cents per kHz", "unknown", ""
    factor = model.high.expanded / model.high.u if model.high.u else 2.0
    return "high end, cents per kHz", number(per_khz, 2, sign=True), number(factor * u, 2)


def _reach(reach: Reach) -> tuple[str, str, str]:
    within = (
        f"reach within ±{reach.tolerance_cents:g} cent{'' if reach.tolerance_cents == 1 else 's'}"
    )
    if reach.low is None or reach.high is None:
        return within, "none", ""
    if reach.low == reach.high:
        return within, note_name(reach.low), ""
    return within, f"{note_name(reach.low)} to {note_name(reach.high)}", ""


def _tell_curve(entries: Sequence[CurveEntry]) -> None:
    cells = [_note(entry) for entry in entries]
    room = sum(max(map(len, column)) + 2 for column in zip(_HEADINGS, *cells, strict=True))
    # No more beside each other than fit: figures that went below would lose their note.
    columns = max(min(-(-len(cells) // _ROWS), console.width() // room), 1)
    height = -(-len(cells) // columns)
    parts = [cells[first : first + height] for first in range(0, len(cells), height)]
    rows = [
        [cell for part in parts for cell in (part[line] if line < len(part) else ("",) * 4)]
        for line in range(height)
    ]
    console.table(_HEADINGS * len(parts), rows)


def _note(entry: CurveEntry) -> tuple[str, str, str, str]:
    digits = 2 if entry.expanded_cents < 9.95 else 1
    return (
        f"{note_name(entry.note)}{' ?' if entry.doubt else ''}",
        f"{entry.f_hz:.3f}",
        number(entry.cents, digits, sign=True),
        number(max(entry.expanded_cents, 0.01), digits),
    )


def _passed_over(one: Surveyed) -> str:
    """What was left out, each reason with how often; the times are in the JSON."""
    reasons = Counter(why.rstrip(".") for _, _, why in one.passed_over)
    listed = "; ".join(
        why if times == 1 else f"{why} ({times} times)" for why, times in reasons.most_common()
    )
    return f"Left out of the take: {listed}."
