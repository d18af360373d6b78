"""``pitchwright practice``: takes of the practice rig, and a stand-in that plays on devices."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["app"]

app = typer.Typer(
    help="The practice rig: simulated oscillators of an invented instrument.",
    no_args_is_help=True,
)


@app.command()
def take(
    out: Annotated[
        Path, typer.Argument(help="File to write: .wav, .flac or .aiff.", show_default=False)
    ],
    notes: Annotated[str, typer.Option(help="The notes to play, in order.")] = "C1..C7 step 6",
    only: Annotated[
        str,
        typer.Option(help="Only these oscillators, with commas.", show_default=False),
    ] = "",
    source: Annotated[str, typer.Option(help="What plays them: Loft or Stairs.")] = "Loft",
    hold: Annotated[float, typer.Option(help="Seconds that each note is held.")] = 1.2,
    rate: Annotated[int, typer.Option(help="Sample rate in hertz.")] = 48000,
    seed: Annotated[int, typer.Option(help="Another number, another take.")] = 1,
) -> None:
    """Write a take of the practice rig, one oscillator a channel; its truth goes beside it."""
    from pitchwright.cli import console
    from pitchwright.cli.practising import rehearse
    from pitchwright.practice.take_truth import truth_path

    with console.progress("Playing") as advance:
        truth = rehearse(
            out,
            notes=notes,
            only=only,
            source=source,
            hold_s=hold,
            rate_hz=rate,
            seed=seed,
            progress=advance,
        )
    names = ", ".join(oscillator.name for oscillator in truth.oscillators)
    console.sentence(f"{out}: {names}, played by {truth.source}. All of it is invented.")
    console.sentence(f"The truth is in {truth_path(out)}.")
    console.sentence(f'Survey it: pitchwright survey {out} --names "{names}" --notes "{notes}"')


@app.command()
def run(
    sound_out: Annotated[
        str,
        typer.Option(help="Where it sounds: an output as pitchwright devices lists it."),
    ],
    voltage_in: Annotated[
        str | None,
        typer.Option(help="Input that its control voltage comes from.", show_default=False),
    ] = None,
    voltage_channel: Annotated[int, typer.Option(help="Which channel of that input.")] = 1,
    volts: Annotated[float, typer.Option(help="Volts of a full-scale input.")] = 10.0,
    midi_in: Annotated[
        str | None,
        typer.Option(help="MIDI port that it makes, for notes to be sent to.", show_default=False),
    ] = None,
    only: Annotated[
        str, typer.Option(help="These voices, with commas; else Heron.", show_default=False)
    ] = "",
    voices: Annotated[
        int, typer.Option(help="Or so many voices, one a channel.", show_default=False)
    ] = 0,
    calm: Annotated[
        bool, typer.Option("--calm", help="Without jitter and wander, to measure the measuring.")
    ] = False,
    source: Annotated[
        str, typer.Option(help="What makes volts of MIDI and of its own keys: Loft or Stairs.")
    ] = "Loft",
    rate: Annotated[int, typer.Option(help="Sample rate in hertz.")] = 48000,
    latency: Annotated[float, typer.Option(help="Seconds that the devices may buffer.")] = 0.5,
    seed: Annotated[int, typer.Option(help="Another number, another oscillator's whims.")] = 1,
) -> None:
    """Sound like an instrument on real devices, to practise on: voltage or MIDI in, sound out.

    It is told what to do line by line: turn "scale trimmer" 0.3, play C4, truth, quit; it answers
    each with a line of JSON. Its values are invented.
    """
    from pitchwright.cli.standing_in import stand_in

    stand_in(
        sound_out,
        voltage_in=voltage_in,
        voltage_channel=voltage_channel,
        volts_full_scale=volts,
        midi_in=midi_in,
        only=only,
        voices=voices,
        calm=calm,
        source=source,
        rate_hz=rate,
        latency_s=latency,
        seed=seed,
    )
