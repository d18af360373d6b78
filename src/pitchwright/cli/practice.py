"""``pitchwright practice``: takes of the practice rig, with the truth beside them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["app"]

app = typer.Typer(
    help="The practice rig: simulated oscillators of an invented instrument.",
    no_args_is_help=True,
)


@app.callback()
def _practice() -> None:
    """Keep ``take`` a subcommand while it is the only one."""


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
