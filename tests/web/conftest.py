"""A page that is really served, and a real browser in front of it."""

from __future__ import annotations

import contextlib
import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from selenium import webdriver
from selenium.common.exceptions import WebDriverException
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.remote.webelement import WebElement

LONG_S = 90.0
PHONE, LAPTOP = (390, 844), (1280, 800)

Make = Callable[..., Any]


class Served:
    """``pitchwright page`` in a process of its own."""

    def __init__(self, folder: Path, *options: str, port: int = 0) -> None:
        self._folder, self._options, self.port = folder, options, port
        self._process: subprocess.Popen[str] | None = None
        self._log = folder / "page.log"
        self.start()

    def start(self) -> None:
        """Start it, and wait until it listens."""
        environment = dict(os.environ)
        environment["PITCHWRIGHT_LOGBOOK"] = str(self._folder / "logbook.sqlite")
        for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME"):
            environment[name] = str(self._folder / "user")
        arguments = ["page", "--no-open", "--port", str(self.port), *self._options]
        with self._log.open("w", encoding="utf-8") as log:
            self._process = subprocess.Popen(
                [sys.executable, "-c", "from pitchwright.cli import main; main()", *arguments],
                stdout=log,
                stderr=subprocess.STDOUT,
                env=environment,
                cwd=self._folder,
                text=True,
            )
        until(lambda: "The page is at" in self.said or self._process_ended, "the page is served")
        found = re.search(r"The page is at http://([\d.]+):(\d+)/", self.said)
        assert found, self.said
        self.port = int(found[2])
        until(self._answers, "the page answers")

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def said(self) -> str:
        """What it wrote to the terminal."""
        return self._log.read_text(encoding="utf-8") if self._log.exists() else ""

    @property
    def _process_ended(self) -> bool:
        return self._process is None or self._process.poll() is not None

    def _answers(self) -> bool:
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port), 1.0):
            return True
        return False

    def stop(self) -> int:
        """Stop it as Ctrl-C does; its exit code."""
        assert self._process is not None
        if self._process.poll() is None:
            self._process.send_signal(signal.SIGINT)
        try:
            return self._process.wait(30)
        except subprocess.TimeoutExpired:
            self._process.kill()
            return self._process.wait(30)


class Browser:
    """A browser in front of the page, used as a person uses it."""

    def __init__(self, profile: Path, size: tuple[int, int]) -> None:
        options = webdriver.ChromeOptions()
        options.binary_location = "/usr/bin/chromium"
        for flag in (
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            f"--user-data-dir={profile}",
        ):
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"performance": "ALL", "browser": "ALL"})
        self.driver = webdriver.Chrome(options, Service("/usr/bin/chromedriver"))
        self.driver.set_page_load_timeout(LONG_S)
        self.resize(size)
        self.do(
            "Page.addScriptToEvaluateOnNewDocument",
            source="window.spoken = [];"
            "SpeechSynthesis.prototype.speak = (one) => window.spoken.push(one.text);",
        )

    def resize(self, size: tuple[int, int]) -> None:
        width, height = size
        self.do(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=width < 600,
        )

    def do(self, command: str, **given: Any) -> Any:
        return self.driver.execute_cdp_cmd(command, given)

    def renew(self) -> None:
        """Nothing open, nothing in the log, as when it was started."""
        self.open("about:blank")
        self.resize(PHONE)
        self.do("Emulation.setEmulatedMedia", features=[])
        for log in ("performance", "browser"):
            self.driver.get_log(log)  # type: ignore[no-untyped-call]

    def open(self, address: str) -> None:
        self.driver.get(address)

    # ------------------------------------------------------------------ what is seen

    def parts(self, part: str) -> list[WebElement]:
        """What is shown under a name, in order."""
        found = self.driver.find_elements("css selector", f'[data-part="{part}"]')
        return [one for one in found if one.is_displayed()]

    def shows(self, part: str) -> bool:
        """Whether something of that name is shown."""
        with contextlib.suppress(WebDriverException):
            return bool(self.parts(part))
        return False

    def text(self, part: str) -> str:
        """The words of the first of that name; empty where there is none."""
        with contextlib.suppress(WebDriverException):
            return next((one.text for one in self.parts(part)), "")
        return ""

    def part(self, part: str) -> WebElement:
        """The first of that name, waited for."""
        until(lambda: self.shows(part), f"“{part}” is shown")
        return self.parts(part)[0]

    def words(self) -> str:
        """All words on the page."""
        return str(self.run("return document.body.innerText"))

    def run(self, script: str, *given: Any) -> Any:
        return self.driver.execute_script(script, *given)

    # ------------------------------------------------------------------ the keyboard

    @property
    def focused(self) -> str:
        """The name of what has the focus."""
        return str(self.run("return document.activeElement?.dataset?.part ?? ''"))

    def press(self, *keys: str) -> None:
        """Press keys, wherever the focus is."""
        for one in keys:
            self.driver.switch_to.active_element.send_keys(one)

    def tab_to(self, part: str) -> None:
        """Go to something by the tabulator alone."""
        for _ in range(80):
            if self.focused == part:
                return
            self.press(Keys.TAB)
        raise AssertionError(f"the tabulator never comes to “{part}”")

    # ------------------------------------------------------------------ the log

    def asked_hosts(self) -> set[str]:
        """Hosts of every request and websocket so far."""
        hosts = set()
        for entry in self.driver.get_log("performance"):  # type: ignore[no-untyped-call]
            message = json.loads(entry["message"])["message"]
            params = message["params"]
            if message["method"] == "Network.requestWillBeSent":
                url = params["request"]["url"]
            elif message["method"] == "Network.webSocketCreated":
                url = params["url"]
            else:
                continue
            if urlsplit(url).scheme in ("http", "https", "ws", "wss"):
                hosts.add(urlsplit(url).netloc)
        return hosts

    def complaints(self) -> list[str]:
        """What the browser complained of, but for what could not be reached."""
        log = self.driver.get_log("browser")  # type: ignore[no-untyped-call]
        return [
            entry["message"]
            for entry in log
            if entry["level"] == "SEVERE" and "ERR_CONNECTION" not in entry["message"]
        ]

    def close(self) -> None:
        self.driver.quit()


def until(wanted: Callable[[], Any], what: str, timeout_s: float = LONG_S) -> None:
    """Wait until something is so."""
    end_s = time.monotonic() + timeout_s
    while not wanted():
        assert time.monotonic() < end_s, f"it never came to pass that {what}"
        time.sleep(0.05)


@pytest.fixture(autouse=True)
def told_where(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a procedure's thread breaks, say where, not only that."""
    monkeypatch.setenv("PITCHWRIGHT_TRACEBACK", "1")


@pytest.fixture
def serve_page(tmp_path: Path) -> Iterator[Make]:
    """Start the page with options; more than one may run."""
    started: list[Served] = []

    def start(*options: str, port: int = 0) -> Served:
        folder = tmp_path / f"served-{len(started)}"
        folder.mkdir()
        started.append(Served(folder, *options, port=port))
        return started[-1]

    yield start
    for one in started:
        one.stop()


@pytest.fixture(scope="module")
def serve_module(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Make]:
    """The same, for a page that a whole file asks."""
    started: list[Served] = []

    def start(*options: str) -> Served:
        started.append(Served(tmp_path_factory.mktemp("served"), *options))
        return started[-1]

    yield start
    for one in started:
        one.stop()


@pytest.fixture(scope="module")
def launch(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Make]:
    """Start browsers, each with a profile of its own, that a whole file uses."""
    opened: list[Browser] = []

    def start() -> Browser:
        os.environ |= {"SE_OFFLINE": "true", "SE_AVOID_STATS": "true"}
        opened.append(Browser(tmp_path_factory.mktemp("profile"), PHONE))
        return opened[-1]

    yield start
    for one in opened:
        with contextlib.suppress(WebDriverException):
            one.close()


@pytest.fixture(scope="module")
def shared(launch: Make) -> Any:
    """One browser for a whole file: starting one takes longer than most of what it is for."""
    return launch()


@pytest.fixture
def browser(shared: Browser) -> Browser:
    """It, as if it were new: a phone, in the light, nothing open and nothing in its log."""
    shared.renew()
    return shared


@pytest.fixture
def browse(browser: Browser, launch: Make) -> Make:
    """As many browsers as a test wants, the first of them shared."""
    given: list[Browser] = []

    def another(size: tuple[int, int]) -> Browser:
        given.append(launch() if given else browser)
        given[-1].resize(size)
        return given[-1]

    return another
