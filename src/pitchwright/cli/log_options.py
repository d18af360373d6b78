"""What every log command takes, and the logbook opened to be looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from pitchwright.errors import InputError

if TYPE_CHECKING:
    from pitchwright.logbook import Logbook

__all__ = ["LogbookChoice", "PracticeOption", "opened"]

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


def opened(logbook: str, practice: bool, *, new: bool = False) -> Logbook:
    """Open a logbook; one that was named and is missing is made only where ``new``."""
    from pathlib import Path

    from pitchwright.cli import console
    from pitchwright.logbook import Logbook
    from pitchwright.logbook.store import practice_url

    file = logbook.removeprefix("sqlite:///")
    if file and not new and not practice and "://" not in file and not Path(file).exists():
        raise InputError("There is no logbook here", file, "Check the path")
    return Logbook(practice_url(logbook) if practice else logbook, warn=console.warning)
