"""What else a person may wish of a guided trim: a wider range, trimmers that stay as they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from pitchwright.errors import InputError
from pitchwright.procedures.settings import TrimSettings
from pitchwright.units import parse_note

__all__ = ["as_wished"]


def as_wished(settings: TrimSettings, extend: str, leave: Sequence[str]) -> TrimSettings:
    """Add a wider range to try, and the trimmers that must not be turned.

    Raises
    ------
    InputError
        Where the range is none or does not hold the first, a trimmer is not there, or none is left.
    """
    wider = _range(extend) if extend else settings.wider
    return replace(settings.leaving(leave), wider=wider)


def _range(text: str) -> tuple[float, float]:
    low, dots, high = text.partition("..")
    if not dots:
        raise InputError(
            f"“{text}” is no range of notes", "--extend", "Write two notes with two dots: C1..C8"
        )
    return float(parse_note(low)), float(parse_note(high))
