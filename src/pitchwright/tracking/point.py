"""One reading at one note, as tracking sees it."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Point"]


@dataclass(frozen=True, slots=True)
class Point:
    """What was measured of one oscillator at one note.

    Attributes
    ----------
    note
        The note that was meant, as a MIDI note number (fractional where a table gives volts).
    cv_v
        Control voltage in volts: nominal, or measured where it was.
    f_hz
        Frequency heard.
    u_cents
        Standard uncertainty of ``f_hz`` in cents.
    t_s
        When, in seconds from the start of the survey.
    kept
        Whether the reading counts; a reading left out stays in the record.
    why
        Why it was left out or doubted, as a sentence; empty where there is nothing to say.
    """

    note: float
    cv_v: float
    f_hz: float
    u_cents: float
    t_s: float = 0.0
    kept: bool = True
    why: str = ""
