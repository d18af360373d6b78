"""The model's line through a curve as it is known in the middle of a trim.

The same fit as a survey's (``tracking``), made of the curve's own notes: what a trim knows of them
counts every reading and every move.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pitchwright.procedures.outcomes import CurveKnown
    from pitchwright.tracking.model import TrackingModel

__all__ = ["Line", "line_of", "modelled"]

Line = tuple[tuple[float, float], ...]
"""Notes and cents, in order of notes."""


def line_of(model: TrackingModel, low: float, high: float) -> Line:
    """A fitted model from one note to another, a point a semitone."""
    steps = max(int(high - low), 2)
    notes = [low + (high - low) * i / steps for i in range(steps + 1)]
    return tuple((note, float(model.cents_at(note))) for note in notes)


def modelled(curve: CurveKnown, settings: Mapping[str, Any]) -> Line:
    """The line that a model fitted to a curve takes through it.

    Parameters
    ----------
    curve
        As it is believed to stand.
    settings
        Of the guided trim, as plain values.

    Returns
    -------
    Line
        Empty where there is nothing to fit: two notes or fewer.
    """
    from pitchwright.procedures.outcomes import SurveyClosed
    from pitchwright.procedures.surveyed import surveyed
    from pitchwright.tracking import Point
    from pitchwright.units import NOTE_AT_0_V, cv_of_note, note_to_hz, ratio_of_cents

    if len(curve.notes) < 3:
        return ()
    at_0_v = float(settings.get("note_at_0_v", NOTE_AT_0_V))
    points = tuple(
        Point(note, cv_of_note(note, at_0_v), note_to_hz(note) * ratio_of_cents(cents), u_cents)
        for note, cents, u_cents in zip(curve.notes, curve.cents, curve.u_cents, strict=True)
    )
    model = surveyed(SurveyClosed(curve.oscillator, points)).model
    return line_of(model, curve.notes[0], curve.notes[-1])
