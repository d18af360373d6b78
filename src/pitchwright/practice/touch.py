"""What a hand at an oscillator does besides turning: it warms it and adds capacitance.

Both move every note alike and go when the hand goes: the capacitance at once, the warmth with a
time constant. Sizes and times are judgements (common practice where a range is known, no source).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

__all__ = ["Touch"]


@dataclass(frozen=True, slots=True)
class Touch:
    """A hand and what it has left behind so far.

    Attributes
    ----------
    heat_cents, heat_s
        What its warmth comes to in the end, and the time constant, in cents and seconds.
    capacitance_cents
        What it adds while it is near.
    near
        Whether it is there.
    warmth_cents
        What its warmth does now.
    """

    heat_cents: float = 0.0
    heat_s: float = 60.0
    capacitance_cents: float = 0.0
    near: bool = False
    warmth_cents: float = 0.0

    def after(self, seconds: float) -> Touch:
        """Return it after some time, the hand staying near or away."""
        towards = self.heat_cents if self.near else 0.0
        kept = math.exp(-seconds / self.heat_s)
        return replace(self, warmth_cents=towards + (self.warmth_cents - towards) * kept)

    def there(self, near: bool) -> Touch:
        """Return it once the hand has come or gone."""
        return replace(self, near=near)

    @property
    def cents(self) -> float:
        """By how much it shifts every note now."""
        return self.warmth_cents + (self.capacitance_cents if self.near else 0.0)
