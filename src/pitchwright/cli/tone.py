"""``pitchwright tone``: the target pitch made to sound."""

from __future__ import annotations

from typing import Annotated

import typer

from pitchwright.cli.options import A4Option

__all__ = ["tone"]


def tone(
    note: Annotated[
        str,
        typer.Argument(help="A note such as C4, a number 0 to 127, or hertz as 261.5Hz."),
    ],
    out: Annotated[
        str | None,
        typer.Option("--out", help="Sound output: number, name or part of it.", show_default=False),
    ] = None,
    channels: Annotated[str, typer.Option(help="Output channels, from 1, with commas.")] = "1,2",
    cents: Annotated[float, typer.Option(help="So many cents above the note.")] = 0.0,
    shape: Annotated[str, typer.Option(help="saw or sine.")] = "saw",
    level: Annotated[float, typer.Option(help="Peak level in dBFS, −12 at most.")] = -30.0,
    rate: Annotated[
        float | None, typer.Option(help="Sample rate in hertz.", show_default=False)
    ] = None,
    seconds: Annotated[
        float | None,
        typer.Option(help="Stop after so long; else with Ctrl-C.", show_default=False),
    ] = None,
    a4: A4Option = 440.0,
) -> None:
    """Sound a steady tone at the target pitch, to hear the beats against an oscillator die.

    It fades in over two seconds from silence to a low level, and fades out when it stops. Its pitch
    is as right as the audio interface's clock.
    """
    import time

    from pitchwright.bench.live.tone import SoundingTone
    from pitchwright.cli import console
    from pitchwright.cli.options import checked_a4, numbers
    from pitchwright.errors import InputError
    from pitchwright.units import ratio_of_cents

    if shape not in ("saw", "sine"):
        raise InputError(f"“{shape[:20]}” is not a shape", "--shape", "Write saw or sine")
    f_hz = _pitch(note, checked_a4(a4)) * ratio_of_cents(cents)
    console.sentence(
        "Turn the loudspeaker or headphones down first, then up slowly: long listening at a high "
        "level harms hearing. Never send this to an output that carries control voltages."
    )
    with SoundingTone(
        f_hz,
        out,
        rate_hz=rate,
        channels=numbers(channels, "--channels"),
        shape="saw" if shape == "saw" else "sine",
        level_dbfs=level,
    ) as sounding:
        end = "" if seconds is not None else " Ctrl-C stops it."
        console.sentence(f"{f_hz:.3f} Hz on {sounding.device_name}.{end}")
        until = time.monotonic() + seconds if seconds is not None else float("inf")
        while time.monotonic() < until:
            sounding.check()
            time.sleep(0.05)


def _pitch(text: str, a4_hz: float) -> float:
    from pitchwright.errors import InputError
    from pitchwright.units import note_to_hz, parse_note

    cleaned = text.strip()
    if not cleaned.lower().endswith("hz"):
        return note_to_hz(parse_note(cleaned), a4_hz)
    try:
        return float(cleaned[:-2])
    except ValueError as fault:
        raise InputError(
            f"“{text[:40]}” is not a frequency", do="Write for example 261.5Hz"
        ) from fault
