"""What every log command takes, and the logbook opened to be looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from pitchwright.logbook import Logbook

__all__ = ["JsonOption", "LogbookChoice", "PracticeOption", "opened"]

LogbookChoice = Annotated[
    str,
    typer.Option(
        "--logbook",
        help="Which logbook: a file, or postgresql://...  [default: $PITCHWRIGHT_LOGBOOK, else "
        "your own]",
        show_default=False,
    ),
]
PracticeOption = Annotated[
    bool, typer.Option("--practice", help="The logbook of the practice rig instead.")
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON, for a program.")]


def opened(logbook: str, practice: bool) -> Logbook:
    """Open a logbook; it is made where it is missing."""
    from pitchwright.cli import console
    from pitchwright.logbook import Logbook
    from pitchwright.logbook.store import practice_url

    return Logbook(practice_url(logbook) if practice else logbook, warn=console.warning)
