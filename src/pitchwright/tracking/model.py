"""The fitted model of a tracking curve, and how each of its terms fared.

    cents = base + scale·(v - v_ref) + 1200·log2((1 - f·t_high) / (1 - f_ref·t_high))
            + low·(1/f - 1/f_ref) + drift·(t - t_ref)

All terms but ``base`` vanish at the reference note (middle C where it lies inside the notes
played), so ``base`` is what is heard there; ``t_high`` is one signed number for the high end, in
equivalent nanoseconds, negative where it is over-compensated; ``drift`` is in cents per minute,
about the middle of the survey.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import overload

import numpy as np
from numpy.typing import NDArray

from pitchwright.tracking.coverage import coverage_factor
from pitchwright.units import cents_between, note_name, ratio_of_cents

__all__ = ["Term", "TermState", "TrackingModel", "cents_per_khz", "high_end_cents"]

Array = NDArray[np.float64]


@overload
def high_end_cents(f_hz: float, high_ns: float) -> float: ...
@overload
def high_end_cents(f_hz: Array, high_ns: float) -> Array: ...
def high_end_cents(f_hz: float | Array, high_ns: float) -> float | Array:
    """Cents by which a high end of ``high_ns`` nanoseconds moves what is heard at ``f_hz``."""
    return cents_between(1.0 - f_hz * high_ns * 1e-9, 1.0)


def cents_per_khz(high_ns: float) -> float:
    """Cents at 1 kHz of a high end in nanoseconds: nearly proportional to frequency."""
    return high_end_cents(1000.0, high_ns)


class TermState(StrEnum):
    """How a term of the model fared."""

    KEPT = "kept"
    NOT_NEEDED = "not needed"
    UNDETERMINED = "undetermined"


@dataclass(frozen=True, slots=True)
class Term:
    """One term of the model.

    Attributes
    ----------
    name
        base, scale, high, low or drift.
    state
        Kept; not needed (as good as zero, within ``u``); or not determined by the notes played.
    value, u
        In the term's unit (cents, cents per octave, nanoseconds, cents·hertz, cents per minute);
        None where undetermined.
    dof
        Degrees of freedom of ``u``.
    why
        One sentence for a person.
    add_note
        The note that would determine it, where one would.
    """

    name: str
    state: TermState
    value: float | None
    u: float | None
    dof: float
    why: str
    add_note: int | None = None

    @property
    def expanded(self) -> float | None:
        """U: what covers 95.45 %, k = 2 or Student's t."""
        return None if self.u is None else coverage_factor(self.dof) * self.u


@dataclass(frozen=True, slots=True, eq=False)
class TrackingModel:
    """The model of one oscillator's tracking curve.

    Attributes
    ----------
    base, scale, high, low, drift
        The terms.
    names
        The kept terms, in the order of ``covariance``.
    covariance
        Of the kept terms, in their units, with all that widens them; shape (p, p).
    ref_note, v_ref, f_ref_hz, t_ref_s
        Where base is stated: note, control voltage, frequency heard there, time.
    top_hz, bottom_hz
        Highest and lowest frequency heard.
    residual_max_cents
        Greatest distance of a note from the model, notes named as mistakes aside.
    note_scatter_cents
        Scatter of notes about the model beyond what their readings state (τ).
    visit_scatter_cents
        Scatter between visits to one note beyond what its readings state.
    dof
        Notes left once the terms are taken out.
    notes
        How many distinct notes it rests on.
    hidden_scale_cents_per_oct
        The part of the scale's standard uncertainty that stands for a droop or drift which the
        notes played cannot show.
    """

    base: Term
    scale: Term
    high: Term
    low: Term
    drift: Term
    names: tuple[str, ...]
    covariance: Array
    ref_note: float
    v_ref: float
    f_ref_hz: float
    t_ref_s: float
    top_hz: float
    bottom_hz: float
    residual_max_cents: float
    note_scatter_cents: float
    visit_scatter_cents: float
    dof: int
    notes: int
    hidden_scale_cents_per_oct: float

    @property
    def base_cents(self) -> float:
        """Cents at the reference note."""
        return self.base.value or 0.0

    @property
    def u_base_cents(self) -> float:
        """Standard uncertainty of base, clock included."""
        return self.base.u or 0.0

    @property
    def scale_cents_per_oct(self) -> float | None:
        """Scale error in cents per octave; None where one note only was played."""
        return self.scale.value

    @property
    def u_scale_cents_per_oct(self) -> float | None:
        """Standard uncertainty of scale."""
        return self.scale.u

    @property
    def high_ns(self) -> float | None:
        """High end in equivalent nanoseconds; 0 where not needed, None where undetermined."""
        return self.high.value

    @property
    def u_high_ns(self) -> float | None:
        """Standard uncertainty of the high end in nanoseconds."""
        return self.high.u

    @property
    def high_cents_per_khz(self) -> float | None:
        """High end as cents at 1 kHz, negative where it falls flat."""
        return None if self.high.value is None else cents_per_khz(self.high.value)

    @property
    def u_high_cents_per_khz(self) -> float | None:
        """Standard uncertainty of ``high_cents_per_khz``."""
        return None if self.high.u is None else abs(cents_per_khz(self.high.u))

    @property
    def high_cents_at_top(self) -> float | None:
        """What the high end does to the highest note against the reference note, in cents."""
        return None if self.high.value is None else self._bend(self.top_hz)

    @property
    def low_cents_at_bottom(self) -> float | None:
        """What the low end does to the lowest note against the reference note, in cents."""
        value = self.low.value
        return None if value is None else value * (1.0 / self.bottom_hz - 1.0 / self.f_ref_hz)

    @property
    def drift_cents_per_min(self) -> float | None:
        """Drift in cents per minute; 0 where not needed, None where undetermined."""
        return self.drift.value

    @property
    def terms(self) -> tuple[Term, ...]:
        """All five terms, in the order of the formula."""
        return (self.base, self.scale, self.high, self.low, self.drift)

    @property
    def undetermined(self) -> tuple[Term, ...]:
        """The terms that the notes played cannot determine."""
        return tuple(term for term in self.terms if term.state is TermState.UNDETERMINED)

    def cents_at(self, note: float) -> float:
        """Cents of the model at a note, at the reference time."""
        v = (note - self.ref_note) / 12.0
        scale = self.scale.value or 0.0
        f_hz = self.f_ref_hz * ratio_of_cents((1200.0 + scale) * v)
        low = (self.low.value or 0.0) * (1.0 / f_hz - 1.0 / self.f_ref_hz)
        return self.base_cents + scale * v + self._bend(f_hz) + low

    def _bend(self, f_hz: float) -> float:
        high_ns = self.high.value or 0.0
        return high_end_cents(f_hz, high_ns) - high_end_cents(self.f_ref_hz, high_ns)

    @property
    def formula(self) -> str:
        """The model with its figures, for a person who likes to check."""
        parts = [f"{self.base_cents:+.3g} cents at {note_name(self.ref_note)}"]
        if self.scale.value is not None:
            parts.append(f"{self.scale.value:+.3g} cents per octave")
        for term, unit in ((self.high, "ns high end"), (self.low, "cents·Hz low end")):
            if term.state is TermState.KEPT and term.value is not None:
                parts.append(f"{term.value:+.3g} {unit}")
        if self.drift.state is TermState.KEPT and self.drift.value is not None:
            parts.append(f"{self.drift.value:+.3g} cents per minute")
        return ", ".join(parts)
