"""``pitchwright page``: the page for the phone or laptop beside the instrument."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from pitchwright.cli.options import BenchOption
from pitchwright.cli.recorded import LogbookOption

if TYPE_CHECKING:
    from pitchwright.web.conductor import Rig

__all__ = ["page"]


def page(
    practice: Annotated[
        bool, typer.Option("--practice", help="Use the practice rig, whatever is connected.")
    ] = False,
    hand: Annotated[
        bool, typer.Option("--hand", help="On the practice rig: a simulated hand turns, for show.")
    ] = False,
    speed: Annotated[
        float, typer.Option(help="How many times faster than a clock the practice rig runs.")
    ] = 1.0,
    bench: BenchOption = None,
    lan: Annotated[
        bool,
        typer.Option(
            "--lan", help="Let paired devices of the local network in: a phone at the rack."
        ),
    ] = False,
    forget: Annotated[
        bool, typer.Option("--forget", help="With --lan: devices paired before must pair again.")
    ] = False,
    port: Annotated[int, typer.Option(help="Port to listen on; 0 takes a free one.")] = 8137,
    logbook: LogbookOption = "",
    allow_output: Annotated[
        bool,
        typer.Option(
            "--allow-output", help="Allow sound and voltage on this machine's outputs from now."
        ),
    ] = False,
    no_open: Annotated[bool, typer.Option("--no-open", help="Open no browser.")] = False,
) -> None:
    """Serve the page: the whole job on one screen beside the instrument.

    It works on the live bench of the bench file, or on the practice rig where there is none, and
    listens on this computer only, unless --lan is given.
    """
    from platformdirs import user_state_path

    from pitchwright.errors import InputError
    from pitchwright.web.serving import Wanted, serve

    if not 0.1 <= speed <= 1000.0:
        raise InputError(f"A clock cannot run {speed:g} times as fast", "--speed", "0.1 to 1000")
    if not 0 <= port <= 65535:
        raise InputError(f"There is no port {port}", "--port", "0 to 65535")

    def connect() -> Rig:
        from pitchwright.bench.live.bench_file import bench_path, read_bench

        described = bench_path(bench)
        if practice or hand or (bench is None and not described.exists()):
            from pitchwright.web.practice_rig import PracticeRig

            return PracticeRig(hand=hand, speed=speed)
        from pitchwright.web.live_rig import LiveRig

        return LiveRig(read_bench(described))

    serve(
        Wanted(
            connect,
            port=port,
            lan=lan,
            forget=forget,
            open_browser=not no_open,
            logbook=logbook,
            output_allowed=allow_output,
            paired_in=user_state_path("pitchwright", appauthor=False) / "paired.json",
        )
    )
