"""How one oscillator changed between two surveys, from the notes that both of them have.

What two surveys share cancels: the bumps of source and converter, a bend that no term describes.
What is left is how each note came back and what moved meanwhile, which each survey knows of itself;
where the notes disagree by more, the uncertainty is widened.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from pitchwright.tracking.conformity import Conformity, stands
from pitchwright.tracking.coverage import expanded_u
from pitchwright.tracking.curve import CurveEntry
from pitchwright.units import MIDDLE_C, note_name

__all__ = ["Changed", "change_between"]

_FEWEST_NOTES: Final = 3
_PRIOR_DOF: Final = 4.0
"""What “they disagree no more than they say” counts for, in degrees of freedom."""


@dataclass(frozen=True, slots=True)
class Changed:
    """The change, later minus earlier.

    Attributes
    ----------
    notes
        How many both surveys have.
    at_note
        Where base is stated: middle C, or the note nearest to it.
    base_cents, expanded_base_cents
        Change there, and its U.
    scale_cents_per_oct, expanded_scale_cents_per_oct
        Change of the scale, and its U.
    """

    notes: int
    at_note: float
    base_cents: float
    expanded_base_cents: float
    scale_cents_per_oct: float
    expanded_scale_cents_per_oct: float

    @property
    def scale_changed(self) -> bool:
        """Whether the scale changed by more than U."""
        u = self.expanded_scale_cents_per_oct
        return stands(self.scale_cents_per_oct, 0.0, u) is not Conformity.INSIDE

    @property
    def sentence(self) -> str:
        """The change in words."""
        scale = f"{self.scale_cents_per_oct:+.2f} ± {self.expanded_scale_cents_per_oct:.2f}"
        base = f"{self.base_cents:+.2f} ± {self.expanded_base_cents:.2f}"
        surely = "" if self.scale_changed else ", no more than the uncertainty"
        return (
            f"By the {self.notes} notes that both have, the scale changed by {scale} cents per "
            f"octave{surely}, and {note_name(self.at_note)} by {base} cents."
        ).replace("-", "−")


def change_between(
    before: Sequence[CurveEntry], after: Sequence[CurveEntry], u_common_cents: float = 0.0
) -> Changed | None:
    """Compare two curves note by note; None where fewer than three notes are in both.

    Parameters
    ----------
    before, after
        Curves against one target, those notes left aside that look like mistakes.
    u_common_cents
        Standard uncertainty of the base between the two: the clocks'.
    """
    then = {entry.note: entry for entry in before if not entry.doubt}
    pairs = [(then[now.note], now) for now in after if now.note in then and not now.doubt]
    if len(pairs) < _FEWEST_NOTES:
        return None
    notes = np.array([now.note for _, now in pairs])
    moved = np.array([now.cents - old.cents for old, now in pairs])
    u = np.array([max(math.hypot(old.u_cents, now.u_cents), 1e-6) for old, now in pairs])
    middle = float(notes[np.abs(notes - MIDDLE_C).argmin()])
    a = np.column_stack([np.ones(len(notes)), (notes - middle) / 12.0]) / u[:, None]
    covariance = np.linalg.inv(a.T @ a)
    base, scale = (float(x) for x in covariance @ (a.T @ (moved / u)))
    left = moved / u - a @ np.array([base, scale])
    dof = _PRIOR_DOF + len(pairs) - 2
    wider = math.sqrt(max((_PRIOR_DOF + float(left @ left)) / dof, 1.0))
    u_base, u_scale = (wider * float(x) for x in np.sqrt(np.diag(covariance)))
    return Changed(
        len(pairs),
        middle,
        base,
        expanded_u(math.hypot(u_base, u_common_cents), dof),
        scale,
        expanded_u(u_scale, dof),
    )
