"""From the command to a page that is served: conductor, address, browser, end."""

from __future__ import annotations

import socket
import sys
import threading
import webbrowser

from pitchwright.errors import InputError
from pitchwright.web.conductor import Conductor, Rig

__all__ = ["serve"]


def serve(*, hand: bool = False, port: int = 0, open_browser: bool = True) -> None:
    """Serve the page until interrupted."""
    listening = _listen(port)
    address = f"http://127.0.0.1:{listening.getsockname()[1]}/"

    def connect() -> Rig:
        from pitchwright.web.practice_rig import PracticeRig

        return PracticeRig(hand=hand)

    conductor = Conductor(connect)

    import uvicorn

    from pitchwright.web.server import build, mounted

    build(conductor)
    config = uvicorn.Config(
        mounted(), log_level="warning", proxy_headers=False, timeout_graceful_shutdown=2
    )
    sys.stdout.write(f"The page is at {address} Stop it with Ctrl-C.\n")
    sys.stdout.flush()
    conductor.open()
    if open_browser:
        threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
    try:
        uvicorn.Server(config).run(sockets=[listening])
    finally:
        conductor.close()


def _listen(port: int) -> socket.socket:
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind(("127.0.0.1", port))
    except OSError as fault:
        raise InputError(
            f"Port {port} cannot be used: {fault.strerror}", do="Choose another: --port"
        ) from fault
    return listening
