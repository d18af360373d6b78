"""The door: hosts, origins, devices and sizes, asked of it as a browser or an attacker would."""

from __future__ import annotations

from collections.abc import MutableMapping
from typing import Any

import pytest

from pitchwright.web.door import DEVICE_COOKIE, Caller, Door, caller_of
from pitchwright.web.pairing import Pairing

HOST = "127.0.0.1:8137"
LAN = "192.168.7.5:8137"
HOSTS = frozenset({HOST, "localhost:8137", LAN})
PHONE = "192.168.7.9"


class Inside:
    """What is behind the door: remembers who came in, and reads what they bring."""

    def __init__(self) -> None:
        self.callers: list[Caller | None] = []
        self.read = b""
        self.whole = False

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        self.callers.append(caller_of(scope))
        if scope["type"] == "websocket":
            await send({"type": "websocket.accept"})
            return
        while True:
            message = await receive()
            if message["type"] == "http.disconnect":
                return
            self.read += message.get("body", b"")
            if not message.get("more_body"):
                self.whole = True
                break
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b"in"})


class Answer:
    def __init__(self, messages: list[MutableMapping[str, Any]]) -> None:
        self.messages = messages
        first = messages[0] if messages else {}
        self.status = first.get("status", 0)
        self.accepted = first.get("type") == "websocket.accept"
        self.headers = {
            name.decode(): text.decode() for name, text in first.get("headers", []) if name
        }

    @property
    def cookies(self) -> str:
        return str(self.headers.get("set-cookie", ""))


async def knock(
    door: Door,
    headers: dict[str, str] | list[tuple[str, str]] | None = None,
    *,
    path: str = "/",
    method: str = "GET",
    peer: str | None = "127.0.0.1",
    websocket: bool = False,
    body: list[bytes] | None = None,
) -> Answer:
    given = headers if isinstance(headers, list) else list((headers or {"host": HOST}).items())
    scope = {
        "type": "websocket" if websocket else "http",
        "path": path,
        "query_string": b"",
        "headers": [(name.lower().encode(), text.encode()) for name, text in given],
        "client": None if peer is None else (peer, 50000),
    }
    if not websocket:
        scope["method"] = method
    parts = list(body or [b""])
    sent: list[MutableMapping[str, Any]] = []

    async def receive() -> MutableMapping[str, Any]:
        if not parts:
            return {"type": "http.disconnect"}
        part = parts.pop(0)
        return {"type": "http.request", "body": part, "more_body": bool(parts)}

    async def send(message: MutableMapping[str, Any]) -> None:
        sent.append(message)

    await door(scope, receive, send)
    return Answer(sent)


@pytest.fixture
def inside() -> Inside:
    return Inside()


@pytest.fixture
def pairing() -> Pairing:
    return Pairing()


@pytest.fixture
def door(inside: Inside, pairing: Pairing) -> Door:
    return Door(inside, HOSTS, pairing, {"/drop": 5000})


# ---------------------------------------------------------------------- hosts


async def test_who_is_at_the_machine_comes_in(door: Door, inside: Inside) -> None:
    answer = await knock(door)
    assert answer.status == 200
    assert inside.callers[0] is not None
    assert inside.callers[0].local


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "evil.example:8137",
        "127.0.0.1",
        "127.0.0.1:80",
        "127.0.0.1:8137.evil.example",
        "evil.example@127.0.0.1:8137",
        "localhost.evil.example:8137",
        "2130706433:8137",
        "[::1]:8137",
        "",
        "127.0.0.1:8137, evil.example",
    ],
)
@pytest.mark.parametrize("websocket", [False, True])
async def test_another_host_name_is_refused(
    door: Door, inside: Inside, host: str, websocket: bool
) -> None:
    """DNS rebinding: the name in the browser is the attacker's, whatever it resolves to."""
    headers = {"host": host, "origin": f"http://{host}"}
    answer = await knock(door, headers, websocket=websocket)
    assert not answer.accepted
    assert answer.status in (421, 0)
    assert inside.callers == []


async def test_two_host_names_are_none(door: Door, inside: Inside) -> None:
    answer = await knock(door, [("host", HOST), ("host", "evil.example")])
    assert answer.status == 421
    assert inside.callers == []


async def test_no_host_name_is_none(door: Door) -> None:
    assert (await knock(door, [("accept", "*/*")])).status == 421


# ---------------------------------------------------------------------- origins

FOREIGN = [
    "http://evil.example",
    "https://127.0.0.1:8137",
    "http://127.0.0.1",
    "http://127.0.0.1:8138",
    "http://localhost:8137",
    "null",
    "file://",
    "http://127.0.0.1:8137.evil.example",
    "",
]


@pytest.mark.parametrize("origin", FOREIGN)
@pytest.mark.parametrize(
    ("method", "websocket"), [("GET", True), ("GET", False), ("POST", False), ("OPTIONS", False)]
)
async def test_another_origin_is_refused(
    door: Door, inside: Inside, origin: str, method: str, websocket: bool
) -> None:
    headers = {"host": HOST, "origin": origin}
    answer = await knock(
        door, headers, method=method, websocket=websocket, path="/_nicegui_ws/socket.io/"
    )
    assert not answer.accepted
    assert answer.status in (403, 0)
    assert inside.callers == []


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH"])
async def test_what_changes_something_must_name_its_origin(
    door: Door, inside: Inside, method: str
) -> None:
    assert (await knock(door, method=method)).status == 403
    own = {"host": HOST, "origin": f"http://{HOST}"}
    assert (await knock(door, own, method=method)).status == 200


async def test_a_websocket_must_name_its_origin(door: Door, inside: Inside) -> None:
    assert not (await knock(door, websocket=True)).accepted
    own = {"host": HOST, "origin": f"http://{HOST}"}
    assert (await knock(door, own, websocket=True)).accepted


async def test_a_page_of_elsewhere_may_link_here_but_embed_nothing(door: Door) -> None:
    there = {"host": HOST, "sec-fetch-site": "cross-site"}
    assert (await knock(door, there | {"sec-fetch-mode": "no-cors"})).status == 403
    assert (await knock(door, there | {"sec-fetch-mode": "cors"})).status == 403
    assert (await knock(door, there | {"sec-fetch-mode": "navigate"})).status == 200
    near = {"host": HOST, "sec-fetch-site": "same-site", "sec-fetch-mode": "no-cors"}
    assert (await knock(door, near)).status == 403


async def test_the_page_may_be_framed_by_nobody_and_loads_nothing_from_elsewhere(
    door: Door,
) -> None:
    headers = (await knock(door)).headers
    assert headers["x-frame-options"] == "DENY"
    policy = headers["content-security-policy"]
    assert "default-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "http:" not in policy
    assert "https:" not in policy
    assert "*" not in policy


# ---------------------------------------------------------------------- devices


def at_lan(**more: str) -> dict[str, str]:
    return {"host": LAN, "origin": f"http://{LAN}"} | more


async def test_an_unpaired_device_sees_the_pairing_page_only(door: Door, inside: Inside) -> None:
    answer = await knock(door, {"host": LAN}, peer=PHONE)
    assert (answer.status, answer.headers["location"]) == (303, "/pair")
    for path in ("/looks/page.css", "/trim", "/_nicegui_ws/socket.io/", "/dropped/1/0.svg", "/x"):
        assert (await knock(door, at_lan(), path=path, peer=PHONE)).status == 401
    assert (await knock(door, at_lan(), path="/drop", method="POST", peer=PHONE)).status == 401
    assert not (await knock(door, at_lan(), websocket=True, peer=PHONE)).accepted
    assert inside.callers == []
    assert (await knock(door, {"host": LAN}, path="/pair", peer=PHONE)).status == 200


async def test_where_nothing_is_known_of_the_sender_it_is_not_local(
    door: Door, inside: Inside
) -> None:
    assert (await knock(door, {"host": HOST}, peer=None, path="/x")).status == 401


async def test_a_forwarded_address_is_not_believed(door: Door, inside: Inside) -> None:
    claims = {"host": LAN, "x-forwarded-for": "127.0.0.1", "forwarded": "for=127.0.0.1"}
    assert (await knock(door, claims, peer=PHONE, path="/x")).status == 401


async def pair(door: Door, code: str, **more: str) -> Answer:
    return await knock(
        door,
        at_lan(**more),
        path="/pair",
        method="POST",
        peer=PHONE,
        body=[f"code={code}".encode()],
    )


async def test_a_paired_device_comes_in_but_is_not_local(
    door: Door, inside: Inside, pairing: Pairing
) -> None:
    answer = await pair(door, pairing.code)
    assert (answer.status, answer.headers["location"]) == (303, "/")
    assert "HttpOnly" in answer.cookies
    assert "SameSite=Strict" in answer.cookies
    cookie = answer.cookies.split(";")[0]
    assert (await knock(door, at_lan(cookie=cookie), websocket=True, peer=PHONE)).accepted
    assert inside.callers[-1] is not None
    assert not inside.callers[-1].local


async def test_a_code_cannot_be_replayed(door: Door, pairing: Pairing) -> None:
    code = pairing.code
    assert (await pair(door, code)).status == 303
    assert (await pair(door, code)).status == 403


async def test_guessing_is_slowed_down(door: Door, pairing: Pairing) -> None:
    statuses = [(await pair(door, f"AAAAAAA{digit}")).status for digit in range(2, 9)]
    assert statuses == [403] * 5 + [429] * 2
    assert (await pair(door, pairing.code)).status == 429


async def test_a_page_of_elsewhere_cannot_pair(door: Door, pairing: Pairing) -> None:
    answer = await pair(door, pairing.code, origin="http://evil.example")
    assert answer.status == 403
    assert not answer.cookies


@pytest.mark.parametrize("token", ["", "x", "../../etc/passwd", "a" * 5000, "\xff", '"; a="b'])
async def test_a_made_up_token_is_none(door: Door, inside: Inside, token: str) -> None:
    cookie = f"{DEVICE_COOKIE}={token}"
    assert (await knock(door, at_lan(cookie=cookie), peer=PHONE, path="/x")).status == 401
    assert inside.callers == []


async def test_without_lan_nobody_can_pair(inside: Inside) -> None:
    door = Door(inside, HOSTS)
    assert (await pair(door, "AAAAAAAA")).status == 405
    assert (await knock(door, at_lan(), peer=PHONE, path="/x")).status == 401


async def test_a_browser_keeps_its_name(door: Door, inside: Inside) -> None:
    first = await knock(door)
    cookie = first.cookies.split(";")[0]
    again = await knock(door, {"host": HOST, "cookie": cookie})
    assert not again.cookies
    assert inside.callers[0] == inside.callers[1]


@pytest.mark.parametrize("name", ["<script>", "a" * 41, "a b", "../x"])
async def test_a_made_up_name_is_replaced(door: Door, inside: Inside, name: str) -> None:
    answer = await knock(door, {"host": HOST, "cookie": f'pitchwright_screen="{name}"'})
    assert answer.cookies
    assert inside.callers[0] is not None
    assert inside.callers[0].screen != name


# ---------------------------------------------------------------------- sizes


async def test_a_body_that_says_it_is_too_large_is_refused(door: Door, inside: Inside) -> None:
    own = {"host": HOST, "origin": f"http://{HOST}", "content-length": "5001"}
    assert (await knock(door, own, method="POST", path="/drop")).status == 413
    own["content-length"] = "5000"
    assert (await knock(door, own, method="POST", path="/drop")).status == 200


async def test_a_body_that_does_not_say_is_cut_off(door: Door, inside: Inside) -> None:
    own = {"host": HOST, "origin": f"http://{HOST}"}
    await knock(door, own, method="POST", path="/drop", body=[b"x" * 1000] * 9)
    assert not inside.whole
    assert len(inside.read) <= 5000


@pytest.mark.parametrize("length", ["-1", "1e9", "abc", "5, 5", "０"])
async def test_a_garbled_length_is_refused(door: Door, inside: Inside, length: str) -> None:
    own = {"host": HOST, "origin": f"http://{HOST}", "content-length": length}
    scope_ok = await knock(door, own, method="POST", path="/drop")
    assert scope_ok.status == 400
    assert inside.callers == []


async def test_the_pairing_form_takes_no_more_than_a_code(door: Door, pairing: Pairing) -> None:
    answer = await knock(
        door,
        at_lan(),
        path="/pair",
        method="POST",
        peer=PHONE,
        body=[b"code=" + b"A" * 5000, b"&code=" + pairing.code.encode()],
    )
    assert answer.status == 403
