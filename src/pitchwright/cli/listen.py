"""``pitchwright listen``: a live reading per channel."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["listen"]


def listen(
    channels: Annotated[
        list[str] | None,
        typer.Argument(
            help="Channels, each a number or NAME=NUMBER, as Heron=1 Wren=2; without any, those "
            "of the bench file, else the first two.",
            show_default=False,
        ),
    ] = None,
    device: Annotated[
        str | None,
        typer.Option(
            "--in", help="Sound input: number, name or part of the name.", show_default=False
        ),
    ] = None,
    rate: Annotated[
        float | None, typer.Option(help="Sample rate in hertz.", show_default=False)
    ] = None,
    device_channels: Annotated[
        int | None,
        typer.Option(
            help="How many channels the device has, where a sound server would mix them.",
            show_default=False,
        ),
    ] = None,
    recording: Annotated[
        Path | None,
        typer.Option(help="Listen to this recording as if it came now.", show_default=False),
    ] = None,
    bench: Annotated[
        Path | None, typer.Option(help="Bench file to take devices from.", show_default=False)
    ] = None,
    reference: Annotated[
        str | None,
        typer.Option(
            help="Channel of an oscillator left alone, to compare with; a name or number.",
            show_default=False,
        ),
    ] = None,
    check: Annotated[
        bool, typer.Option("--check", help="Check the inputs for two seconds, then stop.")
    ] = False,
    once: Annotated[
        bool, typer.Option("--once", help="Read each channel once, carefully, then stop.")
    ] = False,
    seconds: Annotated[
        float | None,
        typer.Option(help="Stop after so much time; else with Ctrl-C.", show_default=False),
    ] = None,
    clock_ppm: Annotated[
        float, typer.Option(help="Tolerance of the computer's clock, parts per million.")
    ] = 50.0,
    mains: Annotated[
        float | None,
        typer.Option(help="Mains frequency, 50 or 60; both where not given.", show_default=False),
    ] = None,
    a4: Annotated[float, typer.Option(help="Pitch of A4 in hertz, for the note names.")] = 440.0,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print one JSON line per reading, for a program.")
    ] = False,
) -> None:
    """Listen to every channel at once: note, cents, uncertainty, level, twenty times a second.

    A reading is called settled once the pitch has come to rest. Modular outputs are about ten volts
    peak to peak: attenuate before a line input.
    """
    from pitchwright.cli import listening
    from pitchwright.cli.options import checked_a4

    plan = listening.planned(channels or [], device, rate, device_channels, recording, bench, mains)
    view = listening.View(checked_a4(a4), as_json, seconds)
    with plan.opened() as source:
        if check:
            listening.show_check(plan, source, view)
        elif once:
            listening.show_once(plan, source, view, clock_ppm)
        else:
            listening.show_live(plan, source, view, reference, clock_ppm)
