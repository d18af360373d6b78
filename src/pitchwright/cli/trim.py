"""``pitchwright trim``: from as found to as left, move by move, on the practice rig."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pitchwright.errors import InputError

__all__ = ["trim"]


def trim(
    name: Annotated[
        str, typer.Argument(help="Which oscillator of the practice rig.", show_default=True)
    ] = "Heron",
    practice: Annotated[
        bool, typer.Option("--practice", help="On the practice rig; you turn, at the keyboard.")
    ] = False,
    hand: Annotated[
        bool, typer.Option("--hand", help="Let a simulated hand turn, and watch it.")
    ] = False,
    low: Annotated[str, typer.Option(help="Lowest note that matters.")] = "C1",
    high: Annotated[str, typer.Option(help="Highest note that matters.")] = "C6",
    tolerance: Annotated[float, typer.Option(help="Tolerance either way, in cents.")] = 1.0,
    own: Annotated[
        bool, typer.Option("--own", help="Count from the oscillator's own middle C.")
    ] = False,
    a4: Annotated[float, typer.Option(help="Pitch of A4 in hertz.")] = 440.0,
    seed: Annotated[int, typer.Option(help="Another number, another hand.")] = 1,
    events: Annotated[
        Path | None,
        typer.Option(
            help="Keep everything that happens in this file (JSON lines), and go on from it where "
            "it was stopped.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Trim one oscillator: which trimmer, at which note, and at which reading to stop.

    It works on the practice rig so far: --practice lets you turn, --hand shows how it goes.
    """
    from pitchwright.cli import console
    from pitchwright.cli.options import checked_a4
    from pitchwright.cli.trimming import KeyboardTurner, Teller, go_on, practice_settings
    from pitchwright.units import parse_note

    if practice == hand:
        raise InputError(
            "Say who turns", do="--practice: you, at the keyboard; --hand: a simulated hand"
        )
    settings = practice_settings(
        name,
        low=parse_note(low),
        high=parse_note(high),
        tolerance_cents=tolerance,
        own_middle=own,
        a4_hz=checked_a4(a4),
    )
    console.sentence("The practice rig: instrument, values and hands are invented.")
    turner = KeyboardTurner() if practice else None
    go_on(settings, turner, seed=seed, tell=Teller(), events=events)
