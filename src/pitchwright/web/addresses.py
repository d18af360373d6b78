"""Which screens there are, in the order of the way about, and where each is found."""

from __future__ import annotations

from typing import Final

__all__ = ["ADDRESSES"]

ADDRESSES: Final = {
    "start": "/",
    "survey": "/survey",
    "trim": "/trim",
    "practice": "/practice",
    "warm-up": "/warm-up",
    "instrument": "/instrument",
    "logbook": "/logbook",
    "certificate": "/certificate",
}
"""Every screen by its stable name."""
