"""As left, before a move is made: what the trimmers at hand could leave of a curve.

The planner's own arithmetic (``trim.aim``) on the curve as it is believed to stand. Where base and
scale may both be turned the pivot drops out; where base may not, a scale trimmer is taken to act
about 0 V unless more is known, so the picture is then a rough one.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pitchwright.procedures.outcomes import CurveKnown

__all__ = ["foresee"]


def foresee(curve: CurveKnown, settings: Mapping[str, Any]) -> tuple[float, ...]:
    """Cents at the notes of a curve once the trimmers have done their best.

    Parameters
    ----------
    curve
        As it stands.
    settings
        Of the guided trim, as plain values; empty for nothing foreseen.

    Returns
    -------
    tuple of float
        One for each note; empty where no trimmer is known.
    """
    import numpy as np

    from pitchwright.trim.aim import Lever, best_amounts
    from pitchwright.trim.kinds import TrimmerKind
    from pitchwright.trim.trimmer import Trimmer
    from pitchwright.units import NOTE_AT_0_V, cv_of_note, note_to_hz

    notes = np.array(curve.notes)
    cents = np.array(curve.cents)
    at_0_v = float(settings.get("note_at_0_v", NOTE_AT_0_V))
    kinds = {
        TrimmerKind(one["trimmer_kind"])
        for one in settings.get("trimmers", ())
        if one.get("may_touch", True)
    }
    own_middle = bool(settings.get("own_middle"))
    cv_v = np.array([cv_of_note(note, at_0_v) for note in curve.notes])
    zero = np.array(0.0)  # a base trimmer takes out what another pivot would do
    levers: list[tuple[TrimmerKind, Any]] = []
    for kind in sorted(kinds, key=lambda one: one.entry.order):
        if (own_middle and kind.is_base) or any(kind.acts_like(other) for other, _ in levers):
            continue
        shape = kind.entry.shape(cv_v, note_to_hz(notes) / 1000.0, zero)
        if own_middle:
            shape = shape - shape[int(np.abs(cents).argmin())]
        levers.append((kind, shape))
    levers = levers[: len(notes)]
    if not levers:
        return ()
    shapes = [Lever(Trimmer(str(kind), kind), shape) for kind, shape in levers]
    amounts, _ = best_amounts(cents, shapes)
    left = cents + sum(amount * lever.shape for amount, lever in zip(amounts, shapes, strict=True))
    return tuple(float(one) for one in left)
