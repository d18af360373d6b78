"""How times and signed amounts read in a sentence."""

from __future__ import annotations

from typing import Final

__all__ = ["IN_HOURS_S", "in_words", "signed"]

IN_HOURS_S: Final = 7200.0
"""From two hours on, minutes are no longer counted one by one."""

_IN_MINUTES_S: Final = 120.0


def in_words(t_s: float, *, fine: bool = False) -> str:
    """A span of time for a person: "12 minutes", "2 hours 40 minutes", or "8 s" where fine."""
    if fine and t_s < _IN_MINUTES_S:
        return f"{t_s:.2g} s" if t_s < 10.0 else f"{t_s:.0f} s"
    minutes = round(t_s / 60.0)
    if minutes < 1:
        return "less than a minute"
    if t_s < IN_HOURS_S:
        return "1 minute" if minutes == 1 else f"{minutes} minutes"
    hours, rest = divmod(round(minutes / 10.0) * 10, 60)
    return f"{hours} hours" + (f" {rest} minutes" if rest else "")


def signed(amount: float, digits: int = 2) -> str:
    """An amount with its sign, a real minus among them."""
    return f"{amount:+.{digits}f}".replace("-", "−")
