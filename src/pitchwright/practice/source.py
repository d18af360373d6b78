"""A source of control voltage: what it really puts out for a note."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pitchwright.errors import InternalError
from pitchwright.units import CENTS_PER_OCTAVE, cv_of_note

__all__ = ["CvSource", "step_errors_v"]


@dataclass(frozen=True, slots=True)
class CvSource:
    """A keyboard, sequencer or converter that sends one volt per octave, nearly.

    Attributes
    ----------
    name
        What the person calls it.
    gain_error
        Relative error of every volt (0.001 makes 1.2 cents per octave).
    offset_v
        Volts added to every note.
    step_error_v
        Error in volts of each note number 0 to 127, the nearest one counting; empty for none.
    settle_s
        Time constant in seconds with which the output approaches a new note.
    """

    name: str
    gain_error: float = 0.0
    offset_v: float = 0.0
    step_error_v: tuple[float, ...] = ()
    settle_s: float = 0.0005

    def __post_init__(self) -> None:
        if len(self.step_error_v) not in (0, 128):
            raise InternalError("A source needs the error of all 128 notes, or of none")

    def cv_v(self, note: float) -> float:
        """Settled output in volts for a note number."""
        step_v = self.step_error_v[round(note)] if self.step_error_v else 0.0
        return cv_of_note(note) * (1.0 + self.gain_error) + self.offset_v + step_v


def step_errors_v(sd_cents: float, rng: np.random.Generator) -> tuple[float, ...]:
    """Errors in volts of 128 notes, normal with a standard deviation of ``sd_cents`` cents."""
    errors_v = rng.normal(0.0, sd_cents / CENTS_PER_OCTAVE, 128)
    return tuple(float(error_v) for error_v in errors_v)
