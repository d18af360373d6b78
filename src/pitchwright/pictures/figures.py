"""Figures and dates as they are printed."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime

__all__ = ["day", "expanded", "hertz", "moment", "plural", "signed"]

_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def signed(amount: float, digits: int = 2) -> str:
    """An amount with its sign and a real minus; zero has none."""
    text = f"{amount:+.{digits}f}"
    return text[1:] if float(text) == 0.0 else text.replace("-", "−")


def expanded(amount: float | None, digits: int = 2) -> str:
    """An expanded uncertainty, rounded up, so that the print never promises more than is known."""
    if amount is None or not math.isfinite(amount):
        return "unknown"
    size = 10.0**digits
    return f"{math.ceil(amount * size - 1e-9) / size:.{digits}f}"


def hertz(f_hz: float) -> str:
    """A frequency with six significant digits."""
    digits = max(0, 5 - math.floor(math.log10(f_hz))) if f_hz > 0.0 else 0
    return f"{f_hz:.{digits}f}"


def day(on: date) -> str:
    """A day in words: 25 November 2026."""
    return f"{on.day} {_MONTHS[on.month - 1]} {on.year}"


def moment(at: datetime) -> str:
    """A day and time of day in UTC."""
    utc = at.astimezone(UTC)
    return f"{day(utc.date())}, {utc:%H:%M} UTC"


def plural(count: int, one: str, many: str = "") -> str:
    """A count with its noun."""
    return f"{count} {one if count == 1 else many or f'{one}s'}"
