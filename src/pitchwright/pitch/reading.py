"""What one careful listening to a span of sound yields."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["Flag", "FlagKind", "Reading"]


class FlagKind(StrEnum):
    """The doubts a reading can carry."""

    NO_PITCH = "no pitch"
    TOO_SHORT = "too short"
    CLIPPED = "clipped"
    UNSTEADY = "unsteady"
    OCTAVE_AMBIGUOUS = "octave ambiguous"
    MAINS_NEARBY = "mains nearby"
    PARTIALS_DISAGREE = "partials disagree"
    WAVEFORM_CHANGES = "waveform changes"


@dataclass(frozen=True, slots=True)
class Flag:
    """One doubt about a reading, with its reason as a sentence for a person.

    Attributes
    ----------
    kind
        Which doubt.
    reason
        Why, in one sentence.
    other_hz
        The other candidate frequency where the octave is ambiguous, else None.
    """

    kind: FlagKind
    reason: str
    other_hz: float | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """The pitch of one span of sound.

    Attributes
    ----------
    f_hz
        Fundamental frequency, or None where there is no pitch (a flag says why).
    u_cents
        Standard uncertainty of ``f_hz`` in cents (k = 1), sample clock excluded; infinite where
        there is no pitch.
    level_dbfs
        RMS level after removing DC, relative to a full-scale sine (0 dBFS); -inf for silence.
    periods
        How many periods of the fundamental the span holds; 0 without pitch.
    flags
        The doubts, each with its reason.
    """

    f_hz: float | None
    u_cents: float
    level_dbfs: float
    periods: float
    flags: tuple[Flag, ...] = ()

    def has(self, kind: FlagKind) -> bool:
        """Whether the reading carries this doubt."""
        return any(flag.kind is kind for flag in self.flags)
