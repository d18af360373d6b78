"""What a certificate says in sentences: the verdict, the rule, the reference, what is left out."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from pitchwright.certificate.contents import (
    Contents,
    NoteResult,
    note_results,
    widest_inside,
)
from pitchwright.certificate.typeset import plain_words
from pitchwright.pictures.figures import day, expanded, moment, plural
from pitchwright.tracking import Conformity, CurveEntry
from pitchwright.tracking.coverage import K2, expanded_u
from pitchwright.units import note_name

__all__ = [
    "INVENTED",
    "headline",
    "limits",
    "reach_words",
    "reference",
    "rule",
    "second_sentence",
]

INVENTED = (
    "Invented data: made on the practice rig, which simulates instruments. No real instrument was "
    "measured."
)


def headline(contents: Contents) -> str:
    """The one sentence that the whole certificate comes to."""
    when = "As left" if contents.left is not None else "As found"
    results = note_results(contents.last.survey, contents.tolerance_cents)
    within = _within(contents.tolerance_cents)
    span = f"from {note_name(results[0].note)} to {note_name(results[-1].note)}"
    inside = sum(r.standing is Conformity.INSIDE for r in results)
    if len(results) == 1:
        return f"{when}, {note_name(results[0].note)}, the one note measured, is {_word(results)}."
    if inside == len(results):
        return f"{when}, every one of the {inside} notes measured {span} is within {within}."
    others = [
        f"{word.value}: {_listed([r for r in results if r.standing is word])}"
        for word in (Conformity.OUTSIDE, Conformity.UNDECIDED)
        if any(r.standing is word for r in results)
    ]
    verb = "is" if inside == 1 else "are"
    return (
        f"{when}, {inside or 'none'} of {len(results)} notes measured {span} {verb} within "
        f"{within} for certain; {'; '.join(others)}."
    )


def second_sentence(contents: Contents) -> str:
    """What was done about it, or that nothing was."""
    worst = contents.last.survey.worst_trusted
    now = f"{_size(worst)} at {note_name(worst.note)}"
    if contents.left is None:
        return (
            f"It is up to {now}. There is no survey as left: this is how it was found, and nothing "
            "is said of how it stands after any adjustment."
        )
    if contents.found is None:
        return f"It is up to {now}. There is no survey as found: how it stood before is not known."
    was = contents.found.survey.worst_trusted
    done = (
        f"{plural(len(contents.visits), 'trimmer visit')} in between"
        if contents.visits
        else "no turn of a trimmer is on record in between"
    )
    said = f"It was up to {_size(was)} at {note_name(was.note)}; now up to {now}. {_first(done)}."
    if contents.found.survey.target.words != contents.left.survey.target.words:
        said += " The two are against different targets: do not compare one with the other."
    return said


def rule(contents: Contents) -> tuple[str, ...]:
    """How the uncertainty is stated, and when a note counts as inside."""
    return (
        "U is the expanded uncertainty, U = k · u, where u is the combined standard uncertainty and"
        f" k covers {100.0 * K2:.2f} %: k = 2, or larger, from Student’s t, where the degrees of "
        "freedom (Welch–Satterthwaite) are few. U is rounded up in print; verdicts are worked out "
        "from unrounded figures.",
        f"A note is inside where |error| + U ≤ {_cents(contents.tolerance_cents)}, outside where "
        f"|error| − U > {_cents(contents.tolerance_cents)}, undecided between. The uncertainty is "
        "the guard band (guarded acceptance, JCGM 106:2012): a note called inside is wrongly so in "
        "at most about 1 case in 40. The reach is the widest run of neighbouring measured notes "
        "that are inside.",
    )


def reference(contents: Contents) -> tuple[str, ...]:
    """What the pitches were compared with, and how far that can be traced."""
    done = contents.last
    if contents.invented:
        return (
            "Frequencies are those that the practice rig computes, with noise of its own making: "
            "nothing was compared with anything real, and nothing is traceable to anything.",
        )
    what = plain_words(done.reference, 300).rstrip(".") or "the clock of the computer’s sound input"
    said = f"Frequencies were compared with {what}."
    if not done.reference:
        said = f"No reference was noted; most likely {said[0].lower()}{said[1:]}"
    if not done.survey.target.absolute:
        return (
            f"{said} The errors are counted from {plain_words(done.survey.target.words, 80)}, heard"
            " with the same clock: its error cancels, and the curve needs no outside standard. The "
            "frequencies in hertz are only as good as that clock.",
        )
    if done.survey.u_common_cents == 0.0:
        return (
            f"{said} No uncertainty of a clock is counted. The chain of comparisons goes as far as "
            "that reference’s own certificate goes: keep it with this one.",
        )
    common = expanded_u(done.survey.u_common_cents)
    return (
        f"{said} The standard uncertainty of the clock is {done.clock_ppm:.4g} parts per million, "
        f"which is ±{expanded(common)} cents (k = 2) at every note alike, and is counted in every "
        "U. Scale, high end and the shape of the curve do not depend on it.",
        "No comparison of that clock with a national standard is on this record. To make the base "
        "pitch traceable, record a calibrated tone beside the oscillator and keep its certificate "
        "with this one.",
    )


def limits(contents: Contents) -> tuple[str, ...]:
    """What the certificate does not cover."""
    entries = contents.last.survey.curve.entries
    gap = max((b.note - a.note for a, b in pairwise(entries)), default=0.0)
    lines = [
        "Notes that were not played"
        + (
            f": between those in the table, up to {gap:g} semitones, nothing is claimed."
            if gap > 1
            else ", below and above those in the table."
        ),
        f"Any later day: an oscillator drifts, and this is how it stood on "
        f"{day(contents.last.at.date())}.",
        "Any other temperature, and the time before it was warm.",
        "Any other source, cable, splitter or setting than those named: each can shift a control "
        "voltage, and 0.83 mV is one cent.",
        "Anything but pitch: not wave shape, level, noise or electrical safety.",
        *(f"The survey of {moment(at)}, which is in the logbook too." for at in contents.later[:3]),
        "It is made by a program from recorded readings; it is not the certificate of an "
        "accredited laboratory.",
    ]
    return tuple(lines)


def _first(words: str) -> str:
    return words[:1].upper() + words[1:]


def _within(tolerance_cents: float) -> str:
    return f"±{_cents(tolerance_cents)}"


def _cents(tolerance_cents: float) -> str:
    return f"{tolerance_cents:g} cent{'' if tolerance_cents == 1.0 else 's'}"


def _word(results: Sequence[NoteResult]) -> str:
    return results[0].standing.value


def _listed(results: Sequence[NoteResult]) -> str:
    if len(results) > 6:
        return f"{len(results)} notes, in the table"
    return ", ".join(note_name(r.note) for r in results)


def _size(entry: CurveEntry) -> str:
    return f"{abs(entry.cents):.2f} cents {'sharp' if entry.cents > 0.0 else 'flat'}"


def reach_words(results: Sequence[NoteResult]) -> str:
    """The reach of a curve in a few words."""
    run = widest_inside(results)
    if not run:
        return "no note"
    if len(run) == 1:
        return f"{note_name(run[0].note)} only"
    return f"{note_name(run[0].note)} to {note_name(run[-1].note)}"
