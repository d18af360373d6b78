"""One thing measured: a line of a table of results."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["Outcome", "table"]


@dataclass(frozen=True)
class Outcome:
    """What, what was wanted, what was found; ``met`` is None for what has no bar."""

    what: str
    wanted: str
    found: str
    met: bool | None


def table(rows: Sequence[Outcome]) -> str:
    """All of them as a table for a page."""
    word = {True: "yes", False: "**no**", None: ""}
    lines = ["| what | wanted | found | met |", "| --- | --- | --- | --- |"]
    lines += [f"| {r.what} | {r.wanted} | {r.found} | {word[r.met]} |" for r in rows]
    return "\n".join(lines)
