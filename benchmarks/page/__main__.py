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
import resource
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
import uuid
from pathlib import Path
from typing import Any

import socketio  # type: ignore[import-untyped]
from selenium import webdriver
from selenium.webdriver.chrome.service import Service
from socketio.exceptions import BadNamespaceError  # type: ignore[import-untyped]

HERE = Path(__file__).parent
HOURS = 8.0
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

    def __init__(self, host: str) -> None:
        os.environ |= {"SE_OFFLINE": "true", "SE_AVOID_STATS": "true"}
        self._profile = tempfile.TemporaryDirectory(ignore_cleanup_errors=True)
        options = webdriver.ChromeOptions()
        options.binary_location = "/usr/bin/chromium"
        flags = "headless no-sandbox disable-gpu disable-quic no-first-run disable-sync"
        for flag in (*flags.split(), f"user-data-dir={self._profile.name}"):
            options.add_argument(f"--{flag}")
        self.driver = webdriver.Chrome(options, Service("/usr/bin/chromedriver"))
        self.driver.get(f"http://{host}/trim")
        self.until("document.querySelector('[data-part=plumb] svg')")

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


def cold_starts(times: int) -> list[tuple[float, float]]:
    """Seconds by the clock, and of CPU, from the command to the first page, each from nothing."""
    found = []
    for _ in range(times):
        with tempfile.TemporaryDirectory() as folder:
            environment = os.environ | {"PITCHWRIGHT_LOGBOOK": f"{folder}/logbook.sqlite"}
            port = 20_000 + uuid.uuid4().int % 20_000
            program = Path(sys.executable).with_name("pitchwright")
            used = resource.getrusage(resource.RUSAGE_CHILDREN)
            begun_s = time.perf_counter()
            process = subprocess.Popen(
                [program, "page", "--practice", "--no-open", "--port", str(port)],
                env=environment,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
            while True:
                try:
                    with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=5) as page:
                        assert b"pitchwright" in page.read()
                    break
                except OSError:
                    assert process.poll() is None, "the page came to nothing"
                    time.sleep(0.005)
            wall_s = time.perf_counter() - begun_s
            process.kill()
            process.wait()
            spent = resource.getrusage(resource.RUSAGE_CHILDREN)
            cpu_s = spent.ru_utime + spent.ru_stime - used.ru_utime - used.ru_stime
            found.append((wall_s, cpu_s))
    return found


def latencies(span_s: float) -> tuple[list[float], float]:
    """Seconds from each step in the sound to changed pixels, and updates a second."""
    server = Server("--heard")
    server.turning()
    screen = Screen(server.host)
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
    screens = [Screen(server.host) for _ in range(2)]
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
    delays, rate = latencies(15.0 if quick else 45.0)
    print("delays", delays, rate)
    share = two_screens(8.0 if quick else 20.0)
    print("share", share)
    rates, ten_share = ten_clients(5.0 if quick else 15.0)
    print("ten", rates, ten_share)
    long = long_listening(0.3 if quick else HOURS, 400.0)
    print("long", long)
    text = report(cold, delays, rate, share, rates, ten_share, long, os.getloadavg()[0])
    print(text)
    if not quick:
        (HERE / "RESULTS.md").write_text(text, encoding="utf-8")


def report(
    cold: list[tuple[float, float]],
    delays: list[float],
    rate: float,
    share: float,
    rates: list[float],
    ten_share: float,
    long: dict[str, float],
    load: float,
) -> str:
    """The figures as a page."""
    first_s = statistics.median(wall_s for wall_s, _ in cold)
    cpu_s = statistics.median(cpu for _, cpu in cold)
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
        ("first page after a cold start, median, s", f"{first_s:.2f}", "≤ 1.5", first_s <= COLD_S),
        ("CPU until then, median, s", f"{cpu_s:.2f}", "", None),
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
        "second frame after the bob was drawn half way over. Cold starts: "
        f"{len(cold)} processes, from the command to the first page in full. {busy}Load average "
        f"at the end {load:.1f}.",
        "",
        "| figure | measured | asked | |",
        "| --- | --- | --- | --- |",
    ]
    words = {True: "met", False: "**missed**", None: ""}
    lines += [f"| {what} | {found} | {asked} | {words[met]} |" for what, found, asked, met in rows]
    return "\n".join([*lines, ""])


if __name__ == "__main__":
    main()
