"""Refusals in the page's own words: an error whose sentence stands with all other texts."""

from __future__ import annotations

from pitchwright.errors import InputError
from pitchwright.web.texts import ENGLISH, say

__all__ = ["refused"]


def refused(key: str, where: str = "", **filled: object) -> InputError:
    """An error with the text of ``refused.KEY``, and what to do from ``refused.KEY do``, if any."""
    do = f"refused.{key} do"
    return InputError(say(f"refused.{key}", **filled), where, say(do) if do in ENGLISH else "")
