"""From the command to a page that is served: conductor, addresses, door, browser, end.

The first page is sent at once; what makes it live, then numerics, logbook and bench, are imported
and set up in threads once the server runs.
"""

from __future__ import annotations

import contextlib
import gc
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import uvicorn

from pitchwright.errors import InputError
from pitchwright.web.arriving import Arriving
from pitchwright.web.conductor import Conductor, Rig
from pitchwright.web.door import Door
from pitchwright.web.drop import MOST_BYTES
from pitchwright.web.first_page import first_page
from pitchwright.web.pairing import Pairing

if TYPE_CHECKING:
    from fastapi import FastAPI

__all__ = ["Wanted", "serve"]

_HOST: Final = "127.0.0.1"
_UNROUTED: Final = "192.0.2.1"
"""Of the range kept for documentation (RFC 5737); no packet is sent to it."""
_MESSAGE_BYTES: Final = 1_000_000
_UNUSED: Final = ("aiohttp", "requests", "websocket")
"""Clients for servers elsewhere: a quarter of the time until the page is live."""
_FIRST_S: Final = 1.0


@dataclass(frozen=True, slots=True)
class Wanted:
    """How the page is to be served.

    Attributes
    ----------
    connect
        Sets up what is connected.
    port
        Port to listen on; 0 takes a free one.
    lan
        Whether paired devices of the local network may come in.
    forget
        Whether devices paired before must pair again.
    open_browser
        Whether to open the page here.
    logbook
        As `Conductor`.
    output_allowed
        As `Conductor`.
    paired_in
        File that keeps who is paired.
    """

    connect: Callable[[], Rig]
    port: int = 0
    lan: bool = False
    forget: bool = False
    open_browser: bool = True
    logbook: str = ""
    output_allowed: bool = False
    paired_in: Path | None = None


def serve(wanted: Wanted, conductor: Conductor | None = None) -> None:
    """Serve the page until it is interrupted; with a conductor of one's own, if wanted."""
    listening = _listen(wanted.port, wanted.lan)
    addresses = ["{}:{}".format(*one.getsockname()) for one in listening]
    port = listening[0].getsockname()[1]
    hosts = frozenset({*addresses, f"localhost:{port}"})
    pairing = None
    if wanted.lan:
        pairing = Pairing(wanted.paired_in, lambda code: _show_code(addresses[-1], code))
        if wanted.forget:
            pairing.forget_all()
    if conductor is None:
        conductor = Conductor(
            wanted.connect, logbook=wanted.logbook, output_allowed=wanted.output_allowed
        )
    arriving = Arriving(lambda: _loaded(conductor), first_page, failed=lambda: _end(server))
    server = _server(Door(arriving, hosts, pairing, {"/drop": MOST_BYTES}))
    _say(f"The page is at http://{addresses[0]}/ on this computer. Ctrl-C stops it.")
    if pairing is not None:
        _say(
            f"Other devices of the network: http://{addresses[-1]}/ and the code below. What is "
            "sent between them is not encrypted: use a network you trust."
        )
        pairing.code  # noqa: B018  (made, and shown, now)
    if wanted.open_browser:
        here = f"http://{addresses[0]}/"
        threading.Thread(target=webbrowser.open, args=(here,), daemon=True).start()
    try:
        server.run(sockets=listening)
    finally:
        conductor.close()
    if arriving.fault is not None:
        raise arriving.fault


def _server(door: Door) -> uvicorn.Server:
    config = uvicorn.Config(
        door,
        log_level="warning",
        proxy_headers=False,
        server_header=False,
        ws_max_size=_MESSAGE_BYTES,
        timeout_graceful_shutdown=2,
    )
    return uvicorn.Server(config)


def _end(server: uvicorn.Server) -> None:
    server.should_exit = True


def _loaded(conductor: Conductor) -> FastAPI:
    """The live page; the bench is set up once a screen shows it, or soon where none comes."""
    with _quick_imports():
        from pitchwright.web.server import build, mounted
    build(conductor)
    threading.Thread(target=_open_later, args=(conductor,), daemon=True).start()
    return mounted()


def _open_later(conductor: Conductor) -> None:
    with contextlib.suppress(TimeoutError):
        conductor.wait_for(lambda scene: bool(scene.screens), _FIRST_S)
    conductor.open()


@contextmanager
def _quick_imports() -> Iterator[None]:
    """Import without what the page never uses."""
    unwanted: dict[str, Any] = {name: None for name in _UNUSED if name not in sys.modules}
    sys.modules.update(unwanted)
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        for name in unwanted:
            del sys.modules[name]
        if collecting:
            gc.enable()


def _listen(port: int, lan: bool) -> list[socket.socket]:
    """Sockets on this computer's own address and, if wanted, on its address in the network."""
    first = _bound(_HOST, port)
    if not lan:
        return [first]
    return [first, _bound(_network_address(), first.getsockname()[1])]


def _bound(host: str, port: int) -> socket.socket:
    bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        bound.bind((host, port))
    except (OSError, OverflowError) as fault:
        bound.close()
        reason = getattr(fault, "strerror", None) or fault
        raise InputError(
            f"Port {port} at {host} cannot be used ({reason})", do="Choose another: --port"
        ) from fault
    return bound


def _network_address() -> str:
    """The address of this computer in the network that leads outwards."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        try:
            asked.connect((_UNROUTED, 9))
            address: str = asked.getsockname()[0]
        except OSError:
            address = _HOST
    if address.startswith("127."):
        raise InputError("This computer is in no network", "--lan", "Join one, or leave --lan out")
    return address


def _show_code(address: str, code: str) -> None:
    """Show the address, a picture of it, and the code, to the person at the machine."""
    import segno

    _say(f"Pair a device: open http://{address}/pair there, code {code[:4]}-{code[4:]}, or scan:")
    segno.make(f"http://{address}/pair#{code}", micro=False).terminal(sys.stdout, compact=True)
    sys.stdout.flush()


def _say(sentence: str) -> None:
    sys.stdout.write(f"{sentence}\n")
    sys.stdout.flush()
