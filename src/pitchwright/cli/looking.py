"""What ``ensemble`` finds out about an instrument, and how it is told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pitchwright.cli import console
from pitchwright.ensemble import (
    Evidence,
    Extra,
    Feed,
    Output,
    Overview,
    Player,
    Turn,
    Whose,
    advise,
    assign,
    order,
    overview,
    whose_error,
)
from pitchwright.ensemble.overview import seconds_per_beat
from pitchwright.procedures.circumstances import Circumstances
from pitchwright.procedures.events import Event
from pitchwright.procedures.outcomes import PairsHeard, SurveyClosed
from pitchwright.procedures.requests import Ask, Tell
from pitchwright.procedures.surveyed import surveyed
from pitchwright.tracking import CurveEntry, Point, TargetCurve
from pitchwright.units import note_name

__all__ = ["Looked", "PairTeller", "look", "record", "tell"]

Curves = Mapping[str, tuple[CurveEntry, ...]]


@dataclass(frozen=True, slots=True)
class Looked:
    """An instrument understood.

    Attributes
    ----------
    name
        What it is called.
    invented
        Whether its data are invented.
    tolerance_cents
        Greatest error wanted.
    curves
        Every oscillator's tracking curve, as the first source that played it.
    sources
        What played them.
    whose
        Whose error it is.
    extras
        What would settle what is open.
    glance
        All against each other; None with a single oscillator.
    feeds
        What every oscillator should be fed from.
    turns
        In which order to trim.
    remarks
        How the files were read.
    """

    name: str
    invented: bool
    tolerance_cents: float
    curves: Curves
    sources: tuple[str, ...]
    whose: Whose
    extras: tuple[Extra, ...]
    glance: Overview | None
    feeds: tuple[Feed, ...]
    turns: tuple[Turn, ...]
    remarks: tuple[str, ...]


def look(
    evidence: Evidence,
    *,
    name: str,
    invented: bool,
    tolerance_cents: float,
    a4_hz: float,
    outputs: Sequence[Output] = (),
    own_trims: Mapping[str, tuple[float, float]] | None = None,
    remarks: Sequence[str] = (),
) -> Looked:
    """Look at everything that was measured, together.

    Parameters
    ----------
    evidence
        Surveys, voltages, what is known.
    name, invented, tolerance_cents, remarks
        As in `Looked`.
    a4_hz
        Pitch of A4.
    outputs
        Trimmable outputs.
    own_trims
        What an oscillator's own scale trimmer can add, least and most.
    """
    whose = whose_error(evidence)
    readings: dict[str, tuple[Point, ...]] = {}
    for sweep in evidence.sweeps:
        readings.setdefault(sweep.oscillator, sweep.points)
    under = Circumstances(target=TargetCurve.flat(a4_hz))
    curves = {
        oscillator: surveyed(SurveyClosed(oscillator, points, circumstances=under)).curve.entries
        for oscillator, points in readings.items()
    }
    players = [
        Player(oscillator, entries, *(own_trims or {}).get(oscillator, (0.0, 0.0)))
        for oscillator, entries in curves.items()
    ]
    feeds = assign(players, outputs, tolerance_cents)
    glance = overview(curves, tolerance_cents, a4_hz) if len(curves) > 1 else None
    leader = glance.leader if glance else players[0].name
    return Looked(
        name=name,
        invented=invented,
        tolerance_cents=tolerance_cents,
        curves=curves,
        sources=tuple(dict.fromkeys(sweep.source for sweep in evidence.sweeps)),
        whose=whose,
        extras=tuple(advise(evidence, whose)),
        glance=glance,
        feeds=feeds,
        turns=order(feeds, outputs, leader, whose),
        remarks=tuple(remarks),
    )


def record(looked: Looked) -> dict[str, object]:
    """Plain values for JSON."""
    from pitchwright.certificate.plain_record import plain_record

    return {
        "schema": "pitchwright ensemble 1",
        "name": looked.name,
        "invented": looked.invented,
        "whose": plain_record(looked.whose),
        "extra": plain_record(looked.extras),
        "glance": plain_record(looked.glance),
        "feeds": plain_record(looked.feeds),
        "order": plain_record(looked.turns),
        "remarks": list(looked.remarks),
    }


def tell(looked: Looked) -> None:
    """Print it, the most asked-for first."""
    console.heading(f"{looked.name}{' (invented)' if looked.invented else ''}")
    if looked.glance is not None:
        console.heading("At a glance")
        for sentence in looked.glance.sentences:
            console.sentence(sentence)
        _tell_beats(looked.glance)
    parts = (
        ("Whose error is it?", looked.whose.sentences),
        ("What would settle it", tuple(extra.sentence for extra in looked.extras)),
        ("Which output for whom", tuple(feed.sentence for feed in looked.feeds)),
        ("In this order", tuple(f"{n}. {turn.sentence}" for n, turn in enumerate(looked.turns, 1))),
        ("About the files", looked.remarks),
    )
    for heading, sentences in parts:
        if sentences:
            console.heading(heading)
            for sentence in sentences:
                console.sentence(sentence)


def _tell_beats(glance: Overview) -> None:
    """Beats of every pair, note by note, an octave apart where there are many notes."""
    notes = glance.common_notes
    shown = [note for note in notes if note % 12.0 == 0.0] if len(notes) > 9 else list(notes)
    shown = shown if len(shown) > 1 else list(notes)
    console.gap()
    console.table(
        ("beats a second (or seconds a beat)", *map(note_name, shown)),
        [
            (
                f"{pair.first} and {pair.second}",
                *(_beat(pair.beats_hz[pair.notes.index(note)]) for note in shown),
            )
            for pair in glance.pairs
        ],
    )


def _beat(beat_hz: float) -> str:
    if beat_hz >= 1.0:
        return console.number(beat_hz, 1)
    return "none" if beat_hz < 0.002 else seconds_per_beat(beat_hz)


class PairTeller:
    """Prints each note's fastest beat while an ensemble check goes on."""

    def __call__(self, event: Event) -> None:
        """Print one event, or nothing."""
        what = event.what
        if isinstance(what, Tell | Ask):
            console.note(what.sentence)
        elif isinstance(what, PairsHeard) and what.pairs:
            fastest = max(what.pairs, key=lambda pair: pair.beat_hz)
            console.note(
                f"{what.source}, {note_name(what.note)}: fastest beat {fastest.first} and "
                f"{fastest.second}, {_beat(fastest.beat_hz)}"
                f"{' a second' if fastest.beat_hz >= 1.0 else ' a beat'}."
            )
