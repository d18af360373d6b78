"""What several commands ask for: written once, checked once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pitchwright.errors import InputError

__all__ = [
    "A4Option",
    "BenchOption",
    "EventsOption",
    "JsonOption",
    "checked_a4",
    "file_name",
    "numbers",
]

A4Option = Annotated[float, typer.Option(help="Pitch of A4 in hertz.")]
BenchOption = Annotated[
    Path | None,
    typer.Option(
        help="Live: bench file of what is connected.  [default: $PITCHWRIGHT_BENCH, else your own]",
        show_default=False,
    ),
]
EventsOption = Annotated[
    Path | None,
    typer.Option(
        help="Live: keep everything that happens in this file (JSON lines), and go on from it "
        "where it was stopped.",
        show_default=False,
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON, for a program.")]


def checked_a4(a4_hz: float) -> float:
    """The pitch of A4 in hertz, refused where nobody tunes (outside 380 to 500 Hz)."""
    if not 380.0 <= a4_hz <= 500.0:
        raise InputError(f"A4 at {a4_hz:g} Hz is outside 380 to 500 Hz", "--a4", "Check the figure")
    return a4_hz


def file_name(name: str) -> str:
    """A name that a person gave, made fit for a file's name: letters, digits and dashes."""
    parts = "".join(letter if letter.isalnum() else " " for letter in name.casefold()).split()
    return "-".join(parts)[:60] or "oscillator"


def numbers(text: str, where: str) -> tuple[int, ...]:
    """Channel numbers written with commas, as ``1,2``; InputError where they are not."""
    parts = [part.strip() for part in text.split(",") if part.strip()]
    if not parts or not all(part.isascii() and part.isdigit() and int(part) for part in parts):
        raise InputError(
            f"“{text[:40]}” is no list of channels", where, "Write numbers from 1, as 1,2"
        )
    return tuple(int(part) for part in parts)
