"""``pitchwright page``: the page for the phone or laptop beside the instrument."""

from __future__ import annotations

from typing import Annotated

import typer

__all__ = ["page"]


def page(
    practice: Annotated[
        bool, typer.Option("--practice", help="Use the practice rig, whatever is connected.")
    ] = False,
    hand: Annotated[
        bool, typer.Option("--hand", help="On the practice rig: a simulated hand turns, for show.")
    ] = False,
    port: Annotated[int, typer.Option(help="Port to listen on; 0 takes a free one.")] = 8137,
    no_open: Annotated[bool, typer.Option("--no-open", help="Open no browser.")] = False,
) -> None:
    """Serve the page: the whole job on one screen beside the instrument.

    It listens on this computer only.
    """
    from pitchwright.web.serving import serve

    del practice
    serve(hand=hand, port=port, open_browser=not no_open)
