"""The door: who may come in, asked of every request and every websocket before anything else.

Theory of operation
-------------------
- *Host*. A page of elsewhere whose name is made to point here (DNS rebinding) still sends its own
  name: only the addresses that are served are answered.
- *Origin*. A page of elsewhere may send requests and open websockets here, and the browser names
  it: only our own pages may. Where a browser says nothing, nothing is changed (GET and HEAD); a
  websocket and everything that changes something must name its origin.
- *Device*. Who is at the machine itself comes in (127.0.0.1). All others must be paired first and
  then bring their token, in a cookie that pages of elsewhere cannot use or read.
- *Size*. A body is cut off where it is larger than what it is for.

What is served may not be framed, and may load nothing from anywhere else.
"""

from __future__ import annotations

import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass
from html import escape
from http.cookies import CookieError, SimpleCookie
from typing import Any, Final
from urllib.parse import parse_qs

from pitchwright.web.pairing import Pairing
from pitchwright.web.texts import say

__all__ = ["DEVICE_COOKIE", "Caller", "Door", "caller_of"]

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

DEVICE_COOKIE: Final = "pitchwright_device"
_SCREEN_COOKIE: Final = "pitchwright_screen"
_CALLER: Final = "pitchwright.caller"
_LOOPBACK: Final = ("127.0.0.1", "::1")
_SAFE: Final = ("GET", "HEAD")
_MOST_BYTES: Final = 1_000_000
"""Of any body but a dropped recording's."""


@dataclass(frozen=True, slots=True)
class Caller:
    """Who calls: a name that stays with the browser, and whether it is at the machine itself."""

    screen: str
    local: bool


def caller_of(scope: Scope) -> Caller | None:
    """Who calls, as the door found out; None behind no door."""
    caller = scope.get(_CALLER)
    return caller if isinstance(caller, Caller) else None


class Door:
    """Stands before an application (ASGI) and lets in who may come in.

    Parameters
    ----------
    app
        What is served.
    hosts
        The addresses served, each as ``host:port``.
    pairing
        Lets devices of the network in; None lets in nobody but the machine itself.
    roomy
        Paths with a greatest size of body of their own, in bytes.
    """

    def __init__(
        self,
        app: App,
        hosts: frozenset[str],
        pairing: Pairing | None = None,
        roomy: dict[str, int] | None = None,
    ) -> None:
        self._app, self._hosts, self._pairing = app, hosts, pairing
        self._roomy = roomy or {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request or websocket, or pass it on."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        headers = _headers(scope)
        host = headers.get("host", "")
        refused = self._refused(scope, headers, host)
        if refused is not None:
            await _refuse(scope, send, *refused)
            return
        cookies = _cookies(headers)
        caller, new = self._caller(scope, cookies)
        guarded = _guarding(send, host, new)
        if scope["type"] == "http" and scope["path"] == "/pair" and not caller.local:
            await self._pair(scope, receive, guarded)
            return
        if not caller.screen:
            if scope["type"] == "http" and scope["method"] in _SAFE and scope["path"] == "/":
                await _answer(guarded, 303, "", [(b"location", b"/pair")])
            else:
                await _refuse(scope, guarded, 401, say("door.not paired"))
            return
        most = self._roomy.get(scope["path"], _MOST_BYTES)
        if int(headers.get("content-length") or 0) > most:
            await _refuse(scope, guarded, 413, say("door.larger"))
            return
        scope[_CALLER] = caller
        await self._app(scope, _measured(receive, most), guarded)

    def _refused(self, scope: Scope, headers: dict[str, str], host: str) -> tuple[int, str] | None:
        if host not in self._hosts:
            return 421, say("door.address")
        if not headers.get("content-length", "0").isdecimal():
            return 400, say("door.length")
        origin = headers.get("origin")
        if origin is not None and origin != f"http://{host}":
            return 403, say("door.elsewhere")
        changes = scope["type"] == "websocket" or scope["method"] not in _SAFE
        if changes and origin is None:
            return 403, say("door.nowhere")
        whence = headers.get("sec-fetch-site", "none")
        walks_in = not changes and headers.get("sec-fetch-mode") == "navigate"
        if whence not in ("none", "same-origin") and not walks_in:
            return 403, say("door.elsewhere")
        return None

    def _caller(self, scope: Scope, cookies: dict[str, str]) -> tuple[Caller, str]:
        """Who calls (no name: not paired), and a new name to be kept by the browser, if one is."""
        client = scope.get("client")
        if client is not None and client[0] in _LOOPBACK:
            kept = cookies.get(_SCREEN_COOKIE, "")
            if kept.isalnum() and len(kept) <= 40:
                return Caller(kept, local=True), ""
            name = secrets.token_hex(8)
            return Caller(name, local=True), name
        token = cookies.get(DEVICE_COOKIE, "")
        device = self._pairing.device(token) if self._pairing is not None and token else None
        return Caller(device or "", local=False), ""

    async def _pair(self, scope: Scope, receive: Receive, send: Send) -> None:
        """The page that asks for the code, and what becomes of it."""
        if scope["method"] in _SAFE:
            await _answer(send, 200, _form(""))
            return
        if scope["method"] != "POST" or self._pairing is None:
            await _answer(send, 405, _form(say("door.method")))
            return
        body = await _whole(_measured(receive, 1000))
        fields = parse_qs(body.decode("utf-8", "replace"), max_num_fields=5) if body else {}
        try:
            token = self._pairing.pair(fields.get("code", [""])[0])
        except PermissionError:
            await _answer(send, 429, _form(say("door.too many")))
            return
        if token is None:
            sentence = say("door.wrong code")
            await _answer(send, 403, _form(sentence))
            return
        cookie = f"{DEVICE_COOKIE}={token}; Path=/; Max-Age=2592000; HttpOnly; SameSite=Strict"
        await _answer(send, 303, "", [(b"location", b"/"), (b"set-cookie", cookie.encode())])


def _headers(scope: Scope) -> dict[str, str]:
    """Headers by name in small letters; one that comes twice counts as garbled where it matters."""
    found: dict[str, str] = {}
    for raw, text in scope["headers"]:
        name, said = raw.decode("latin-1").lower(), text.decode("latin-1")
        joint = "; " if name == "cookie" else ", "
        found[name] = f"{found[name]}{joint}{said}" if name in found else said
    return found


def _cookies(headers: dict[str, str]) -> dict[str, str]:
    try:
        return {name: one.value for name, one in SimpleCookie(headers.get("cookie", "")).items()}
    except CookieError:
        return {}


def _guarding(send: Send, host: str, new_name: str) -> Send:
    """Send with the headers that keep the page to itself."""
    policy = (
        "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; "
        "style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; font-src 'self' data:; "
        f"connect-src 'self' ws://{host}; object-src 'none'; base-uri 'none'; "
        "form-action 'self'; frame-ancestors 'none'"
    )
    added = [
        (b"content-security-policy", policy.encode()),
        (b"x-content-type-options", b"nosniff"),
        (b"x-frame-options", b"DENY"),
        (b"referrer-policy", b"same-origin"),
        (b"cross-origin-opener-policy", b"same-origin"),
        (b"cross-origin-resource-policy", b"same-origin"),
    ]
    if new_name:
        cookie = f"{_SCREEN_COOKIE}={new_name}; Path=/; HttpOnly; SameSite=Strict"
        added.append((b"set-cookie", cookie.encode()))

    async def guarded(message: Message) -> None:
        if message["type"] == "http.response.start":
            message["headers"] = [*message.get("headers", []), *added]
        await send(message)

    return guarded


def _measured(receive: Receive, most: int) -> Receive:
    """Receive no more than so many bytes of a request's body."""
    taken = 0

    async def measured() -> Message:
        nonlocal taken
        message = await receive()
        if message["type"] == "http.request":
            taken += len(message.get("body", b""))
            if taken > most:
                # To the application it looks as if the sender went away in the middle.
                return {"type": "http.disconnect"}
        return message

    return measured


async def _whole(receive: Receive) -> bytes:
    body = b""
    while True:
        message = await receive()
        if message["type"] != "http.request":
            return b""
        body += bytes(message.get("body", b""))
        if not message.get("more_body"):
            return body


async def _refuse(scope: Scope, send: Send, status: int, sentence: str) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 1008})  # before it was accepted: status 403
        return
    await _answer(send, status, f"<!doctype html><title>pitchwright</title><p>{escape(sentence)}")


async def _answer(
    send: Send, status: int, page: str, headers: list[tuple[bytes, bytes]] | None = None
) -> None:
    content = page.encode()
    await send(
        {
            "type": "http.response.start",
            "status": status,
            "headers": [
                (b"content-type", b"text/html; charset=utf-8"),
                (b"content-length", str(len(content)).encode()),
                (b"cache-control", b"no-store"),
                *(headers or []),
            ],
        }
    )
    await send({"type": "http.response.body", "body": content})


def _form(sentence: str) -> str:
    """The page that asks for the code; one that came behind a # in the address is sent at once."""
    said = f'<p role="alert">{escape(sentence)}</p>' if sentence else ""
    return f"""<!doctype html>
<html lang="en">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{say("door.title")}</title>
<style>
  :root {{ color-scheme: light dark }}
  body {{ font: 1.25rem/1.5 system-ui, sans-serif; max-width: 30rem; margin: 3rem auto;
         padding: 0 1.25rem }}
  input, button {{ font: inherit; padding: .6rem .8rem; width: 100%; box-sizing: border-box;
                  margin-top: .5rem }}
</style>
<main>
<h1>{say("door.heading")}</h1>
{said}
<form method="post" action="/pair">
  <label for="code">{say("door.code")}</label>
  <input id="code" name="code" autocomplete="off" autocapitalize="characters" spellcheck="false"
         maxlength="20" required autofocus>
  <button>{say("door.pair")}</button>
</form>
</main>
<script>
  const given = location.hash.slice(1);
  if (given) {{
    history.replaceState(null, "", "/pair");
    document.getElementById("code").value = given;
    document.forms[0].submit();
  }}
</script>
</html>"""
