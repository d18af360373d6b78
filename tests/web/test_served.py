"""The page as it is served, tried from outside: names, origins, uploads, downloads, pairing."""

from __future__ import annotations

import re
import socket
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import httpx
import pytest
from websockets.exceptions import InvalidStatus
from websockets.sync.client import connect
from websockets.typing import Origin

from pitchwright.cli.practising import rehearse

LONG_S = 90.0


@pytest.fixture(scope="module")
def served(
    serve_module: Any,
) -> Any:
    return serve_module("--practice", "--hand", "--speed", "50")


@pytest.fixture
def client(served: Any) -> Iterator[httpx.Client]:
    with httpx.Client(
        base_url=served.address, headers={"origin": served.address}, timeout=60.0
    ) as client:
        yield client


def raw(port: int, *lines: str) -> str:
    """Send exactly this, as no well-behaved client would; the first line of the answer."""
    with socket.create_connection(("127.0.0.1", port), 30.0) as line:
        line.sendall(("\r\n".join(lines) + "\r\n\r\n").encode("latin-1"))
        answer = b""
        while b"\r\n\r\n" not in answer:
            part = line.recv(4096)
            if not part:
                break
            answer += part
        return answer.decode("latin-1").split("\r\n")[0]


def test_the_first_page_says_what_it_is_and_brings_all_it_needs(
    served: Any, client: httpx.Client
) -> None:
    page = client.get("/")
    assert page.status_code == 200
    assert "pitchwright" in page.text
    for address in re.findall(r'(?:src|href)="([^"]+)"', page.text):
        assert not re.match(r"(?:https?:)?//", address), address
    assert client.get("/looks/page.css").status_code == 200


def test_another_host_name_is_refused(served: Any, client: httpx.Client) -> None:
    answer = client.get("/", headers={"host": f"evil.example:{served.port}"})
    assert answer.status_code == 421
    assert "pitchwright:" not in answer.text


@pytest.mark.parametrize("path", ["/_nicegui_ws/socket.io/?EIO=4&transport=polling", "/drop"])
def test_another_origin_is_refused(client: httpx.Client, path: str) -> None:
    for method in ("GET", "POST"):
        answer = client.request(method, path, headers={"origin": "http://evil.example"})
        assert answer.status_code == 403


def test_a_websocket_opens_for_our_own_page_only(served: Any) -> None:
    address = f"ws://127.0.0.1:{served.port}/_nicegui_ws/socket.io/?EIO=4&transport=websocket"
    with connect(address, origin=Origin(served.address)) as line:
        assert str(line.recv(30.0)).startswith("0")
    for origin in ("http://evil.example", "null", None):
        with pytest.raises(InvalidStatus) as refused:
            connect(address, origin=None if origin is None else Origin(origin))
        assert refused.value.response.status_code == 403
    rebound = f"ws://localhost:{served.port}/_nicegui_ws/socket.io/?EIO=4&transport=websocket"
    with pytest.raises(InvalidStatus):
        connect(rebound, origin=Origin(served.address))


CLIMBING = [
    "/looks/../conductor.py",
    "/looks/..%2fconductor.py",
    "/looks/%2e%2e/conductor.py",
    "/looks/%252e%252e/conductor.py",
    "/looks/..\\conductor.py",
    "/looks//etc/passwd",
    "/looks/....//conductor.py",
    "/dropped/../../etc/passwd",
    "/dropped/..%2f..%2f..%2fetc%2fpasswd/0.svg",
    "/dropped/1/..%2f..%2f0.svg",
    "/dropped/1/0.svg%00.txt",
    "/dropped/-1/0.svg",
    "/dropped/1/-1.svg",
    "/dropped/99999999999999999999/0.svg",
    "//etc/passwd",
    "/..",
]


@pytest.mark.parametrize("path", CLIMBING)
def test_no_download_climbs_out(served: Any, path: str) -> None:
    first = raw(
        served.port, f"GET {path} HTTP/1.1", f"Host: 127.0.0.1:{served.port}", "Connection: close"
    )
    assert re.match(r"HTTP/1.1 4\d\d", first), first


@pytest.mark.parametrize(
    "name",
    ["../../../tmp/climbed.wav", "..\\..\\climbed.wav", "/etc/climbed.wav", "climbed\x00.wav", "…"],
)
def test_no_upload_climbs_out(served: Any, client: httpx.Client, name: str) -> None:
    client.post(f"/drop?name={quote(name)}", content=b"RIFF")
    for folder in (Path("/etc"), Path("/tmp"), Path.cwd()):
        assert not (folder / "climbed.wav").exists()


@pytest.mark.parametrize("name", ["", "program.exe", "page.html", "wav", ".wav.svg", "x" * 5000])
def test_what_is_no_recording_by_its_name_is_refused(client: httpx.Client, name: str) -> None:
    answer = client.post(f"/drop?name={quote(name)}", content=b"RIFF")
    assert answer.status_code == 422
    assert answer.json()["sentence"].endswith(".")


def test_an_upload_that_says_it_is_too_large_is_refused_at_once(served: Any) -> None:
    first = raw(
        served.port,
        "POST /drop?name=a.wav HTTP/1.1",
        f"Host: 127.0.0.1:{served.port}",
        f"Origin: {served.address}",
        f"Content-Length: {(1 << 30) + 1}",
    )
    assert first.startswith("HTTP/1.1 413")


@pytest.mark.parametrize("length", ["-5", "many", "1, 2", "0x10"])
def test_a_garbled_length_is_refused(served: Any, length: str) -> None:
    first = raw(
        served.port,
        "POST /drop?name=a.wav HTTP/1.1",
        f"Host: 127.0.0.1:{served.port}",
        f"Origin: {served.address}",
        f"Content-Length: {length}",
    )
    assert first.startswith("HTTP/1.1 400")


def test_an_upload_that_breaks_off_leaves_the_page_alive(served: Any, client: httpx.Client) -> None:
    with socket.create_connection(("127.0.0.1", served.port), 30.0) as line:
        line.sendall(
            f"POST /drop?name=a.wav HTTP/1.1\r\nHost: 127.0.0.1:{served.port}\r\n"
            f"Origin: {served.address}\r\nContent-Length: 100000\r\n\r\nRIFF".encode()
        )
    assert client.get("/").status_code == 200


@pytest.mark.parametrize(
    "content",
    [b"", b"RIFF", b"\x00" * 10_000, b"<svg onload=alert(1)>", b"fLaC" + b"\xff" * 100],
    ids=["empty", "cut off", "zeros", "markup", "garbled"],
)
def test_a_malformed_recording_is_taken_in_and_makes_no_sheet(
    client: httpx.Client, content: bytes
) -> None:
    answer = client.post("/drop?name=a.wav", content=content)
    while answer.status_code == 422 and "wait already" in answer.json()["sentence"]:
        time.sleep(0.5)
        answer = client.post("/drop?name=a.wav", content=content)
    assert answer.status_code == 200
    number = answer.json()["number"]
    time.sleep(0.2)
    assert client.get(f"/dropped/{number}/0.svg").status_code == 404


def test_a_recording_becomes_a_sheet_that_can_be_fetched(
    client: httpx.Client, tmp_path: Path
) -> None:
    take = tmp_path / "take.wav"
    rehearse(take, notes="C2..C6 step 12", only="Wren")
    answer = client.post("/drop?name=my take.wav", content=take.read_bytes())
    number = answer.json()["number"]
    end_s = time.monotonic() + LONG_S
    while (sheet := client.get(f"/dropped/{number}/0.svg")).status_code != 200:
        assert time.monotonic() < end_s
        time.sleep(0.2)
    assert sheet.headers["content-type"].startswith("image/svg+xml")
    assert "<svg" in sheet.text
    assert "my take.wav" in sheet.text


def test_a_device_of_the_network_is_let_in_by_its_code_once(serve_page: Any) -> None:
    try:
        served = serve_page("--practice", "--lan")
    except AssertionError as fault:
        if "in no network" in str(fault):
            pytest.skip("this computer is in no network")
        raise
    found = re.search(r"open http://([\d.]+:\d+)/pair there, code (\w{4}-\w{4})", served.said)
    assert found
    assert "█" in served.said or "▀" in served.said, "the code as a picture"
    address, code = f"http://{found[1]}", found[2]
    with httpx.Client(base_url=address, headers={"origin": address}, timeout=60.0) as phone:
        refused = phone.get("/")
        assert (refused.status_code, refused.headers["location"]) == (303, "/pair")
        assert phone.get("/trim").status_code == 401
        assert phone.post("/pair", data={"code": "AAAA-AAAA"}).status_code == 403
        assert phone.post("/pair", data={"code": code}).status_code == 303
        assert phone.get("/").status_code == 200
    with httpx.Client(base_url=address, headers={"origin": address}, timeout=60.0) as other:
        assert other.post("/pair", data={"code": code}).status_code == 403
        assert other.get("/trim").status_code == 401


def test_a_port_that_is_taken_is_said_in_a_sentence(served: Any, serve_page: Any) -> None:
    with pytest.raises(AssertionError, match="Choose another: --port"):
        serve_page("--practice", port=served.port)
