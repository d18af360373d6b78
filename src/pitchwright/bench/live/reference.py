"""A reference on another channel: pitches are compared with it instead of with the clock alone.

What is heard at the same time through the same converter shares its clock, so the clock's error
cancels in the ratio of the two. Where the reference's frequency is not known, it counts as what it
was at its first reading: the clock still says how high everything is, but no longer drifts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from pitchwright.pitch import Flag, FlagKind, Reading

__all__ = ["Reference"]


@dataclass(slots=True)
class Reference:
    """A channel that holds the reference.

    Attributes
    ----------
    column
        Which channel of the source.
    f_hz
        Its frequency; None where it is not known, and its first reading counts.
    """

    column: int
    f_hz: float | None = None

    def against(self, reading: Reading, reference: Reading) -> Reading:
        """A reading as it is against the reference that was read at the same time."""
        if reading.f_hz is None:
            return reading
        if reference.f_hz is None or reference.has(FlagKind.UNSTEADY):
            why = Flag(FlagKind.UNSTEADY, "The reference is not heard, or does not hold still")
            return replace(reading, flags=(*reading.flags, why))
        if self.f_hz is None:
            self.f_hz = reference.f_hz
        return replace(
            reading,
            f_hz=reading.f_hz * self.f_hz / reference.f_hz,
            u_cents=math.hypot(reading.u_cents, reference.u_cents),
        )
