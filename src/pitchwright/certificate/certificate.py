"""The certificate of one instrument: as a PDF for paper, and as plain values for a program."""

from __future__ import annotations

from typing import Any, Final

from pitchwright.certificate.contents import (
    Contents,
    NoteResult,
    SurveyDone,
    TurnDone,
    note_results,
)
from pitchwright.certificate.paper_plot import Curve, curves_svg
from pitchwright.certificate.statements import (
    INVENTED,
    headline,
    limits,
    reach_words,
    reference,
    rule,
    second_sentence,
)
from pitchwright.certificate.survey_record import oscillator_record
from pitchwright.certificate.typeset import Paper, first_page, plain_words, typeset
from pitchwright.pictures.figures import day, expanded, hertz, moment, plural, signed
from pitchwright.tracking import Conformity, OscillatorSurvey, TermState
from pitchwright.units import note_name

__all__ = [
    "CERTIFICATE_SCHEMA",
    "certificate_pdf",
    "certificate_picture",
    "certificate_record",
]

CERTIFICATE_SCHEMA: Final = "pitchwright certificate 1"
_UNSAID: Final = "not noted"
_MARKS: Final = {Conformity.INSIDE: "●", Conformity.OUTSIDE: "×", Conformity.UNDECIDED: "○"}


def certificate_pdf(contents: Contents, paper: Paper = "a4") -> bytes:
    """Typeset the certificate; the same contents give the same bytes.

    The file is PDF/A-2a and PDF/UA-1: tagged, titled, every face embedded.
    """
    return typeset("certificate.typ", {"paper": paper, **_on_paper(contents)}, contents.dated)


def certificate_picture(contents: Contents, paper: Paper = "a4", per_inch: float = 110.0) -> bytes:
    """The certificate's first page as a PNG picture, for a screen."""
    data = {"paper": paper, **_on_paper(contents)}
    return first_page("certificate.typ", data, contents.dated, per_inch)


def certificate_record(contents: Contents) -> dict[str, Any]:
    """The certificate as JSON-able values; cents, hertz and volts throughout."""
    return {
        "schema": CERTIFICATE_SCHEMA,
        "number": contents.number,
        "dated": contents.dated.isoformat(),
        "name": contents.name,
        "what": contents.what,
        "fed_by": contents.fed_by,
        "trimmers": list(contents.trimmers),
        "invented": contents.invented,
        "tolerance_cents": contents.tolerance_cents,
        "headline": headline(contents),
        "as_found": _survey_record(contents.found, contents.tolerance_cents),
        "as_left": _survey_record(contents.left, contents.tolerance_cents),
        "visits": [
            {
                "visit": visit.visit,
                "trimmer": visit.trimmer,
                "turns": [
                    {
                        "note": note_name(turn.note),
                        "before_cents": turn.before_cents,
                        "aim_cents": turn.aim_cents,
                        "after_cents": turn.after_cents,
                        "turns": turn.turns,
                        "probe": turn.probe,
                        "ended": turn.ended,
                    }
                    for turn in visit.turns
                ],
            }
            for visit in contents.visits
        ],
        "rule": list(rule(contents)),
        "reference": list(reference(contents)),
        "limits": list(limits(contents)),
    }


def _survey_record(done: SurveyDone | None, tolerance_cents: float) -> dict[str, Any] | None:
    if done is None:
        return None
    return {
        "entry": done.uid,
        "at": done.at.isoformat(),
        "bench": done.bench,
        "temperature_c": done.temperature_c,
        "minutes_on": done.minutes_on,
        "source": done.source,
        "route": done.route,
        "reference": done.reference,
        "clock_ppm": done.clock_ppm,
        "remark": done.remark,
        "notes": [
            {
                "note": note_name(result.note),
                "midi_note": result.note,
                "cv_v": result.cv_v,
                "f_hz": result.f_hz,
                "cents": result.cents,
                "u_cents": result.u_cents,
                "coverage": result.coverage,
                "expanded_cents": result.expanded_cents,
                "standing": result.standing.value,
                "doubt": result.doubt,
            }
            for result in note_results(done.survey, tolerance_cents)
        ],
        "survey": oscillator_record(done.survey),
    }


def _on_paper(contents: Contents) -> dict[str, Any]:
    """Everything as the words and figures that are printed."""
    name = plain_words(contents.name, 120) or "unnamed"
    doubts = [
        result.doubt
        for done in (contents.found, contents.left)
        if done is not None
        for result in note_results(done.survey, contents.tolerance_cents)
        if result.doubt
    ]
    remarks = [d.remark for d in (contents.found, contents.left) if d is not None and d.remark]
    return {
        "name": name,
        "number": contents.number,
        "day": day(contents.dated),
        "about": _about(contents),
        "headline": headline(contents),
        "second": second_sentence(contents),
        "invented": INVENTED if contents.invented else "",
        "plot": _plot(contents),
        "plot_words": _plot_words(contents),
        "surveys": [
            words
            for words, done in (("as found", contents.found), ("as left", contents.left))
            if done is not None
        ],
        "figures": _figures(contents),
        "conditions": _conditions(contents),
        "notes": _notes(contents),
        "note_remarks": list(dict.fromkeys([*doubts, *remarks])),
        "against": _against(contents),
        "tolerance": f"±{contents.tolerance_cents:g}",
        "moves": _moves(contents),
        "move_words": _move_words(contents),
        "rule": list(rule(contents)),
        "reference": list(reference(contents)),
        "limits": list(limits(contents)),
    }


def _about(contents: Contents) -> str:
    kind = {
        "oscillator": "voltage-controlled oscillator",
        "filter": "voltage-controlled filter, used as an oscillator",
    }.get(contents.what, plain_words(contents.what, 80))
    fed = f"fed by {plain_words(contents.fed_by, 120)}" if contents.fed_by else ""
    return " · ".join(part for part in (kind, fed) if part)


def _against(contents: Contents) -> str:
    words = {
        spoken: plain_words(done.survey.target.words, 80)
        for spoken, done in (("as found", contents.found), ("as left", contents.left))
        if done is not None
    }
    if len(set(words.values())) == 1:
        return next(iter(words.values()))
    return ", ".join(f"{target} ({spoken})" for spoken, target in words.items())


def _curve(done: SurveyDone | None, tolerance_cents: float) -> Curve | None:
    if done is None:
        return None
    return Curve(note_results(done.survey, tolerance_cents), done.survey.model.cents_at)


def _plot(contents: Contents) -> str:
    tolerance = contents.tolerance_cents
    return curves_svg(
        _curve(contents.found, tolerance), _curve(contents.left, tolerance), tolerance
    )


def _plot_words(contents: Contents) -> str:
    parts = [
        f"{words}, error in cents by note: "
        + ", ".join(
            f"{note_name(r.note)} {signed(r.cents)} ± {expanded(r.expanded_cents)}"
            for r in note_results(done.survey, contents.tolerance_cents)
        )
        for words, done in (("As found", contents.found), ("As left", contents.left))
        if done is not None
    ]
    return f"Tracking curves over a keyboard strip. {'. '.join(parts)}."


def _figures(contents: Contents) -> list[list[str]]:
    """Rows of what the curves come to: its name, then a value and its U for each survey."""
    columns = [_survey_figures(d, contents) for d in (contents.found, contents.left) if d]
    return [
        [label, *(cell for column in columns for cell in column[label])] for label in columns[0]
    ]


def _survey_figures(done: SurveyDone, contents: Contents) -> dict[str, tuple[str, str]]:
    survey, model = done.survey, done.survey.model
    worst = survey.worst_trusted
    results = note_results(survey, contents.tolerance_cents)
    worst_u = next(r.expanded_cents for r in results if r.note == worst.note)
    return {
        f"base at {note_name(model.ref_note)}, cents": (
            signed(model.base_cents),
            f"± {expanded(model.base.expanded)}",
        ),
        "scale, cents per octave": _term(
            model.scale_cents_per_oct, model.scale.expanded, model.scale.state
        ),
        "high end, cents per kHz": _term(
            model.high_cents_per_khz, _high_expanded(survey), model.high.state
        ),
        "worst note, cents": (
            f"{note_name(worst.note)}  {signed(worst.cents)}",
            f"± {expanded(worst_u)}",
        ),
        "best that base, scale and high end could do": (_best(survey), ""),
        f"reach at ±{contents.tolerance_cents:g}": (reach_words(results), ""),
    }


def _term(figure: float | None, spread: float | None, state: TermState) -> tuple[str, str]:
    if figure is None or state is TermState.UNDETERMINED:
        return ("not determined", "")
    return (signed(figure), f"± {expanded(spread)}")


def _high_expanded(survey: OscillatorSurvey) -> float | None:
    high = survey.model.high
    if not high.u or high.expanded is None or survey.model.u_high_cents_per_khz is None:
        return None
    return high.expanded / high.u * survey.model.u_high_cents_per_khz


def _best(survey: OscillatorSurvey) -> str:
    told = len(survey.curve.trusted) > len(survey.best.trimmers)
    return f"±{expanded(survey.best_possible_cents)}" if told else "too few notes"


def _conditions(contents: Contents) -> list[list[str]]:
    done = [d for d in (contents.found, contents.left) if d is not None]
    rows = [
        ["when", *(moment(d.at) for d in done)],
        ["measured against", *(plain_words(d.survey.target.words, 80) for d in done)],
        ["room", *(_temperature(d.temperature_c) for d in done)],
        ["power on for", *(_minutes(d.minutes_on) for d in done)],
        ["played from", *(plain_words(d.source, 80) or _UNSAID for d in done)],
        ["route", *(plain_words(d.route, 80) or _UNSAID for d in done)],
        ["bench", *(plain_words(d.bench, 60) or _UNSAID for d in done)],
        ["readings", *(_readings(d.survey) for d in done)],
        ["logbook entry", *(d.uid[:12] or "none" for d in done)],
    ]
    return [["", *_spoken(contents)], *rows]


def _spoken(contents: Contents) -> list[str]:
    return [
        words
        for words, done in (("as found", contents.found), ("as left", contents.left))
        if done is not None
    ]


def _readings(survey: OscillatorSurvey) -> str:
    used = sum(entry.readings for entry in survey.curve.entries)
    out = len(survey.curve.left_out)
    return f"{used} used" + (f", {out} left out" if out else "")


def _temperature(temperature_c: float | None) -> str:
    return _UNSAID if temperature_c is None else f"{temperature_c:.1f} °C".replace("-", "−")


def _minutes(minutes_on: float | None) -> str:
    if minutes_on is None:
        return _UNSAID
    if minutes_on < 120.0:
        return plural(round(minutes_on), "minute")
    return f"{round(minutes_on) // 60} h {round(minutes_on) % 60:02d} min"


def _notes(contents: Contents) -> list[list[str]]:
    """One row a note: note, volts, Hz, error, U and k of each survey, and the verdict."""
    tolerance = contents.tolerance_cents
    surveys = [
        {r.note: r for r in note_results(done.survey, tolerance)}
        for done in (contents.found, contents.left)
        if done is not None
    ]
    rows = []
    for note in sorted({note for results in surveys for note in results}):
        cells = [cell for results in surveys for cell in _note_cells(results.get(note))]
        known = next(results[note] for results in reversed(surveys) if note in results)
        last = surveys[-1].get(note)
        verdict = f"{_MARKS[last.standing]} {last.standing.value}" if last else "not measured"
        rows.append([note_name(note), f"{known.cv_v:.3f}".replace("-", "−"), *cells, verdict])
    return rows


def _note_cells(result: NoteResult | None) -> list[str]:
    if result is None:
        return ["–", "–", "–", "–"]
    doubt = " ?" if result.doubt else ""
    return [
        hertz(result.f_hz),
        f"{signed(result.cents)}{doubt}",
        expanded(result.expanded_cents),
        f"{result.coverage:.2f}",
    ]


def _moves(contents: Contents) -> list[list[str]]:
    rows = []
    for visit in contents.visits:
        for place, turn in enumerate(visit.turns):
            rows.append(
                [
                    str(visit.visit) if place == 0 else "",
                    plain_words(visit.trimmer, 60) if place == 0 else "",
                    note_name(turn.note),
                    signed(turn.before_cents),
                    signed(turn.aim_cents),
                    "–" if turn.after_cents is None else signed(turn.after_cents),
                    _turns(turn),
                    f"probe; {turn.ended}" if turn.probe else turn.ended,
                ]
            )
    return rows


def _turns(turn: TurnDone) -> str:
    return "not counted" if turn.turns is None else signed(turn.turns)


def _move_words(contents: Contents) -> str:
    if contents.visits:
        return (
            "Cents at the note that sounded. The aim is the reading to stop at; it allows for what "
            "later moves shift, and is mostly not zero. Turns of the screwdriver, clockwise "
            "positive."
        )
    if contents.left is None:
        return "None: nothing was turned after this survey."
    return "None on record between the two surveys." if contents.found else "None on record."
