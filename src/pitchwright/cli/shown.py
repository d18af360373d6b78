"""Words that others wrote, made safe to print, and times on this computer's clock."""

from __future__ import annotations

from datetime import datetime

__all__ = ["local", "shown"]


def shown(text: str, *, most: int = 60) -> str:
    """A name or note on one line, of at most so many letters.

    What would steer a terminal, break the line or turn the direction of writing is shown as �:
    names may come from somebody else's file.
    """
    line = " ".join(text.split())
    plain = "".join(letter if letter.isprintable() else "�" for letter in line)
    return plain if len(plain) <= most else f"{plain[: most - 1]}…"


def local(at_utc: str) -> datetime:
    """The moment of an entry, on this computer's clock."""
    return datetime.fromisoformat(at_utc).astimezone()
