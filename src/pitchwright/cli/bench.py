"""``pitchwright bench``: what is connected, described once: setup, show, calibrate."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["app"]

app = typer.Typer(
    help="What is connected: made once by setup, looked at by show, measured by calibrate.",
    no_args_is_help=True,
)

BenchOption = Annotated[
    Path | None,
    typer.Option(
        "--bench",
        help="Bench file.  [default: $PITCHWRIGHT_BENCH, else your own]",
        show_default=False,
    ),
]


@app.command()
def setup(bench: BenchOption = None) -> None:
    """Ask what is connected, and write the bench file. A handful of questions."""
    from pitchwright.bench.live.bench_file import bench_path
    from pitchwright.cli.bench_setup import ask_and_write

    ask_and_write(bench_path(bench))


@app.command()
def show(bench: BenchOption = None) -> None:
    """Say what the bench file describes, and what its calibration is worth."""
    from pitchwright.bench.live.bench_file import bench_path, read_bench
    from pitchwright.cli.bench_show import tell_bench

    path = bench_path(bench)
    tell_bench(read_bench(path), path)


@app.command()
def calibrate(
    bench: BenchOption = None,
    inside: Annotated[
        bool,
        typer.Option("--input", help="Calibrate the voltage input, patched to the output."),
    ] = False,
    levels: Annotated[
        str, typer.Option(help="Levels to send, full scale being 1.")
    ] = "0, 0.2, 0.4, 0.6, 0.8",
) -> None:
    """Send steady levels, ask what a voltmeter shows, and keep the line through the readings."""
    from pitchwright.bench.live.bench_file import bench_path
    from pitchwright.cli.bench_calibrate import calibrate as measure

    measure(bench_path(bench), levels=levels, inside=inside)
