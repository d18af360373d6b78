"""Measure the page and write RESULTS.md: ``python -m benchmarks.page``.

Needs Chromium and its driver. ``--quick`` takes shorter spans and writes nothing.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import json
import os
import platform
import re
import socket
import statistics
import subprocess
import sys
import sysconfig
import tempfile
import time
import urllib.request
import uuid
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import socketio  # type: ignore[import-untyped]
from selenium import webdriver
from selenium.common.exceptions import WebDriverException
from selenium.webdriver.chrome.service import Service
from socketio.exceptions import BadNamespaceError  # type: ignore[import-untyped]

HERE = Path(__file__).parent
HOURS = 8.0
LONGEST_S = 60.0
READINGS_PER_S = 20.0
LATENCY_S, CPU_SHARE, COLD_S, GROWTH_MB = 0.25, 0.08, 1.5, 5.0

# Two frames after a message was drawn its pixels have changed.
WATCH = """
window.shownAt = [];
const before = window.pitchwright.live;
window.pitchwright.live = (message) => {
  before(message);
  if (!message.points) return;
  const off = message.points.at(-1)[1];
  const t = message.points.at(-1)[0];
  requestAnimationFrame(() => requestAnimationFrame(() => {
    window.shownAt.push([(performance.timeOrigin + performance.now()) / 1000, off, t]);
  }));
};
"""


class Server:
    """The page in a process of its own."""

    def __init__(self, *options: str) -> None:
        command = [sys.executable, "-m", "benchmarks.page.serve", *options]
        self.process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        assert self.process.stdout is not None
        found = re.search(r"http://([\d.:]+)/", self.process.stdout.readline())
        assert found
        self.host = found[1]

    def figures(self) -> dict[str, Any]:
        """What it says of itself now."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write("\n")
        self.process.stdin.flush()
        said: dict[str, Any] = json.loads(self.process.stdout.readline())
        return said

    def turning(self) -> None:
        """Wait until live readings come."""
        while self.figures()["readings"] < 20:
            time.sleep(0.2)

    def close(self) -> None:
        """End it."""
        assert self.process.stdin is not None
        self.process.stdin.close()
        self.process.wait(30)


class Screen:
    """A browser that shows a turn."""

    def __init__(self) -> None:
        os.environ |= {"SE_OFFLINE": "true", "SE_AVOID_STATS": "true"}
        self._profile = tempfile.TemporaryDirectory(ignore_cleanup_errors=True)
        options = webdriver.ChromeOptions()
        options.binary_location = "/usr/bin/chromium"
        flags = "headless no-sandbox disable-gpu disable-quic no-first-run disable-sync"
        for flag in (*flags.split(), f"user-data-dir={self._profile.name}"):
            options.add_argument(f"--{flag}")
        self.driver = webdriver.Chrome(options, Service("/usr/bin/chromedriver"))

    def turn(self, host: str) -> None:
        """Look on while a trimmer is turned."""
        self.driver.get(f"http://{host}/trim")
        self.until("document.querySelector('[data-part=plumb] svg')")

    def when(self, script: str, clock: Callable[[], float] | None = None) -> float:
        """What a script gives once it gives something, or what the clock says then."""
        end_s = time.monotonic() + LONGEST_S
        while time.monotonic() < end_s:
            # Where one page takes the place of another there is nothing to look at.
            with contextlib.suppress(WebDriverException):
                if found := self.run(script):
                    return clock() if clock else float(found)
            time.sleep(0.01)
        raise TimeoutError(self.run("return document.body.innerText"))

    def until(self, condition: str) -> None:
        """Wait for something in the browser."""
        while not self.run(f"return Boolean({condition})"):
            time.sleep(0.1)

    def run(self, script: str) -> Any:
        """Run a script in the page."""
        return self.driver.execute_script(script)

    def close(self) -> None:
        """Close it."""
        self.driver.quit()
        self._profile.cleanup()


@dataclass(frozen=True)
class Start:
    """Seconds from the command to what a person sees of it, and of CPU that it took until then.

    Attributes
    ----------
    painted_s, cpu_s
        Until the first page stood on the screen in full, by the browser's own clock.
    live_s
        Until the page that answers had taken its place and was connected.
    ready_s
        Until the bench was there and its oscillators were listed.
    """

    painted_s: float
    cpu_s: float
    live_s: float
    ready_s: float


_PAINTED = """
const paint = performance.getEntriesByName('first-contentful-paint')[0];
const said = document.querySelector('h1')?.innerText ?? '';
const ways = document.querySelectorAll('main a.pw-key').length;
return paint && said && ways >= 3 ? (performance.timeOrigin + paint.startTime) / 1000 : 0;
"""
_LIVE = "return Boolean(window.socket?.connected && document.querySelector('[data-part=menu]'))"
_READY = "return document.querySelector('[data-part=oscillators]')?.innerText.includes('Heron')"


def cold_starts(times: int, *, forgotten: bool = False) -> list[Start]:
    """Starts from nothing, each seen in a browser that is open already.

    With ``forgotten`` no file of Python or its packages is in the machine's file cache.
    """
    screen = Screen()
    found = []
    for _ in range(times):
        screen.driver.get("about:blank")
        if forgotten:
            forget_files()
        with tempfile.TemporaryDirectory() as folder:
            environment = os.environ | {"PITCHWRIGHT_LOGBOOK": f"{folder}/logbook.sqlite"}
            port = free_port()
            program = Path(sys.executable).with_name("pitchwright")
            begun_s = time.time()
            process = subprocess.Popen(
                [program, "page", "--practice", "--no-open", "--port", str(port)],
                env=environment,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
            wait_for_port(port, process)
            screen.driver.get(f"http://127.0.0.1:{port}/")
            painted_s = screen.when(_PAINTED)
            cpu_s = cpu_of(process.pid)
            live_s, ready_s = (screen.when(look, clock=time.time) for look in (_LIVE, _READY))
            process.kill()
            process.wait()
        found.append(Start(painted_s - begun_s, cpu_s, live_s - begun_s, ready_s - begun_s))
    screen.close()
    return found


def cpu_of(pid: int) -> float:
    """Seconds of CPU that a process has taken."""
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as tried:
        tried.bind(("127.0.0.1", 0))
        return int(tried.getsockname()[1])


def wait_for_port(port: int, process: subprocess.Popen[bytes]) -> None:
    """Wait until somebody listens there."""
    while True:
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1.0):
            return
        assert process.poll() is None, "the page came to nothing"
        time.sleep(0.005)


def forget_files() -> None:
    """Have the machine read Python and its packages from the disk again."""
    for folder in (sys.prefix, sysconfig.get_path("stdlib"), HERE.parents[1] / "src"):
        for path in Path(folder).rglob("*"):
            if path.is_file() and not path.is_symlink():
                with path.open("rb") as file:
                    os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


def latencies(span_s: float) -> tuple[list[float], float]:
    """Seconds from each step in the sound to changed pixels, and updates a second."""
    server = Server("--heard")
    server.turning()
    screen = Screen()
    screen.turn(server.host)
    screen.run(WATCH)
    time.sleep(span_s)
    shown = screen.run("return window.shownAt")
    steps = server.figures()["steps_s"]
    screen.close()
    server.close()
    delays = []
    for at_s, to_cents in steps:
        if not shown[0][0] < at_s < shown[-1][0] - 1.5:
            continue
        # Half way from one side to the other the bob has visibly left.
        delays.append(next(s for s, off, _ in shown if s >= at_s and off * to_cents > 0.0) - at_s)
    return delays, len(shown) / (shown[-1][0] - shown[0][0])


def two_screens(span_s: float) -> float:
    """Share of a core that the server takes with two screens at twenty updates a second."""
    server = Server()
    server.turning()
    screens = [Screen() for _ in range(2)]
    for screen in screens:
        screen.turn(server.host)
    time.sleep(3.0)
    before, begun_s = server.figures(), time.perf_counter()
    time.sleep(span_s)
    after, spent_s = server.figures(), time.perf_counter() - begun_s
    for screen in screens:
        screen.close()
    server.close()
    return float((after["cpu_s"] - before["cpu_s"]) / spent_s)


def _fetched(address: str) -> str:
    with urllib.request.urlopen(address, timeout=30) as page:
        return str(page.read().decode())


async def _client(host: str, span_s: float) -> float:
    """One client without a browser: how many updates a second reach it."""
    address = f"http://{host}"
    page = await asyncio.to_thread(_fetched, f"{address}/trim")
    found = re.search(r"client_id['\"]?\s*:\s*['\"]([0-9a-f-]{36})", page)
    assert found, "the page names its client"
    query = {"client_id": found[1], "document_id": str(uuid.uuid4()), "tab_id": str(uuid.uuid4())}
    query |= {"old_tab_id": "", "next_message_id": "0", "implicit_handshake": "true"}
    joined = "&".join(f"{name}={text}" for name, text in query.items())
    client = socketio.AsyncClient()
    count = 0

    async def message(data: dict[str, Any]) -> None:
        nonlocal count
        count += "pitchwright.live" in data["code"]
        with contextlib.suppress(BadNamespaceError):  # it was leaving
            await client.emit("ack", {"client_id": found[1], "next_message_id": data["_id"] + 1})

    client.on("run_javascript", message)
    await client.connect(
        f"{address}?{joined}",
        headers={"Origin": address},
        transports=["websocket"],
        socketio_path="/_nicegui_ws/socket.io",
    )
    try:
        await asyncio.sleep(2.0)
        before, begun_s = count, time.perf_counter()
        await asyncio.sleep(span_s)
        return (count - before) / (time.perf_counter() - begun_s)
    finally:
        await client.disconnect()


def ten_clients(span_s: float) -> tuple[list[float], float]:
    """Updates a second that reach each of ten clients, and the server's share of a core."""
    server = Server()
    server.turning()

    async def all_of_them() -> list[float]:
        return list(await asyncio.gather(*(_client(server.host, span_s) for _ in range(10))))

    before, begun_s = server.figures(), time.perf_counter()
    rates = asyncio.run(all_of_them())
    after, spent_s = server.figures(), time.perf_counter() - begun_s
    server.close()
    return rates, float((after["cpu_s"] - before["cpu_s"]) / spent_s)


def long_listening(hours: float, times_faster: float) -> dict[str, float]:
    """What the server grows by over hours of readings, sent faster, with a client looking on."""
    rate_hz = READINGS_PER_S * times_faster
    server = Server("--rate", str(rate_hz), "--of-a-clock", str(times_faster))
    server.turning()
    wanted = hours * 3600.0 * READINGS_PER_S
    figures: list[dict[str, Any]] = []

    async def look_on() -> None:
        client = asyncio.create_task(_client(server.host, 1e9))
        while True:
            now = await asyncio.to_thread(server.figures)
            figures.append(now)
            if now["readings"] >= wanted:
                break
            await asyncio.sleep(1.0)
        client.cancel()
        await asyncio.gather(client, return_exceptions=True)

    asyncio.run(look_on())
    server.close()
    # The first tenth fills what is kept of the last seconds, and the allocator's own stock.
    settled = next(one for one in figures if one["readings"] >= 0.1 * wanted)
    last = figures[-1]
    return {
        "readings": last["readings"],
        "growth_mb": last["rss_mb"] - settled["rss_mb"],
        "rss_mb": last["rss_mb"],
        "events": last["events"] - settled["events"],
    }


def main() -> None:
    """Measure, report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    quick = parser.parse_args().quick
    cold = cold_starts(2 if quick else 7)
    print("cold", cold)
    forgotten = cold_starts(1 if quick else 5, forgotten=True)
    print("forgotten", forgotten)
    delays, rate = latencies(15.0 if quick else 45.0)
    print("delays", delays, rate)
    share = two_screens(8.0 if quick else 20.0)
    print("share", share)
    rates, ten_share = ten_clients(5.0 if quick else 15.0)
    print("ten", rates, ten_share)
    long = long_listening(0.3 if quick else HOURS, 400.0)
    print("long", long)
    text = report(cold, forgotten, delays, rate, share, rates, ten_share, long, os.getloadavg()[0])
    print(text)
    if not quick:
        (HERE / "RESULTS.md").write_text(text, encoding="utf-8")


def report(
    cold: list[Start],
    forgotten: list[Start],
    delays: list[float],
    rate: float,
    share: float,
    rates: list[float],
    ten_share: float,
    long: dict[str, float],
    load: float,
) -> str:
    """The figures as a page."""
    painted_s = statistics.median(one.painted_s for one in cold)
    from_disk_s = statistics.median(one.painted_s for one in forgotten)
    late_s = max(delays)
    rows = [
        (
            "sound to changed pixel, greatest, ms",
            f"{1000 * late_s:.0f}",
            "≤ 250",
            late_s <= LATENCY_S,
        ),
        ("the same, median, ms", f"{1000 * statistics.median(delays):.0f}", "", None),
        ("updates a second on the screen", f"{rate:.1f}", "20", rate >= 19.0),
        (
            "server with two screens, share of a core",
            f"{100 * share:.1f} %",
            "< 8 %",
            share < CPU_SHARE,
        ),
        (
            "first page on the screen after a cold start, median, s",
            f"{painted_s:.2f}",
            "≤ 1.5",
            painted_s <= COLD_S,
        ),
        ("the same, slowest, s", f"{max(one.painted_s for one in cold):.2f}", "", None),
        ("the same, all files read from the disk, median, s", f"{from_disk_s:.2f}", "", None),
        ("CPU until then, median, s", _median(one.cpu_s for one in cold), "", None),
        ("until the page is live, median, s", _median(one.live_s for one in cold), "", None),
        ("until the bench is set up, median, s", _median(one.ready_s for one in cold), "", None),
        (
            "ten clients: fewest updates a second to one",
            f"{min(rates):.1f}",
            "20",
            min(rates) >= 19.0,
        ),
        ("ten clients: share of a core", f"{100 * ten_share:.0f} %", "", None),
        (
            f"growth over {long['readings'] / READINGS_PER_S / 3600:.1f} h of readings, MB",
            f"{long['growth_mb']:.1f}",
            f"none (< {GROWTH_MB:g})",
            long["growth_mb"] < GROWTH_MB,
        ),
        ("memory after it, MB", f"{long['rss_mb']:.0f}", "", None),
    ]
    cores = os.cpu_count() or 1
    busy = (
        "The machine was busy with other work, so what is timed by the clock on the wall says more "
        "of that than of the page; shares of a core and CPU do not. "
        if load > cores
        else ""
    )
    lines = [
        "# The page",
        "",
        f"On {platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, a "
        f"headless Chromium on the same machine; {len(delays)} steps of 12 cents in sound made as "
        "it is heard, in blocks of 10 ms; the delay runs from the block that holds the step to the "
        "second frame after the bob was drawn half way over.",
        "",
        f"Cold starts: {len(cold)} new processes, from the command to the browser's first paint "
        "with content of a page that has its headline and its three ways to begin; what it is is "
        "the start screen as plain HTML, with the way to every screen and the cautions. It is live "
        "once its live twin has taken its place and is connected. The browser is open already, "
        "bytecode is compiled and files are in the file cache, but in "
        f"{len(forgotten)} further starts with none of Python's in it.",
        "",
        f"{busy}Load average at the end {load:.1f}.",
        "",
        "| figure | measured | asked | |",
        "| --- | --- | --- | --- |",
    ]
    words = {True: "met", False: "**missed**", None: ""}
    lines += [f"| {what} | {found} | {asked} | {words[met]} |" for what, found, asked, met in rows]
    return "\n".join([*lines, ""])


def _median(seconds: Iterable[float]) -> str:
    return f"{statistics.median(seconds):.2f}"


if __name__ == "__main__":
    main()
