"""Takes pictures of every screen of the page on the practice rig: see script/screenshots.

The page is served here, a headless Chromium looks at it, and the trimmers are turned by a little
loop that does what a hand does: look, turn, look again.
"""

from __future__ import annotations

import argparse
import base64
import os
import shutil
import socket
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import uvicorn
from PIL import Image
from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.webelement import WebElement
from selenium.webdriver.support.select import Select

from pitchwright.web import texts
from pitchwright.web.conductor import Conductor
from pitchwright.web.door import Door
from pitchwright.web.first_page import first_page
from pitchwright.web.practice_rig import PracticeRig
from pitchwright.web.scene import Hidden, Phase, Scene
from pitchwright.web.server import build, mounted

SIZES = {"phone": (390, 844), "wide": (1280, 800)}
THEMES = ("light", "dark")
IN_DOCS = {
    "page-trim-phone.png": "trim-near-phone-light",
    "page-trim-wide.png": "trim-near-wide-dark",
    "page-sheet.png": "survey-sheet-wide-light",
    "page-instrument.png": "instrument-first-wide-light",
}
"""The pictures that stand in the docs, and which they are."""
DOCS = Path(__file__).parent.parent / "docs" / "pictures"


class SlowableRig(PracticeRig):
    """The practice rig, which can be held back while its picture is taken."""

    def __init__(self, *, speed: float) -> None:
        super().__init__(speed=speed)
        self._usual = speed

    def slow(self, on: bool) -> None:
        """Hold it back, or let it go on as usual."""
        self._speed = 0.2 if on else self._usual


class Studio:
    """The page, served; the browser that looks at it; and a hand."""

    def __init__(self, folder: Path, speed: float) -> None:
        self.folder = folder
        self.scratch = tempfile.TemporaryDirectory(prefix="pitchwright-pictures-")
        self.rig = SlowableRig(speed=speed)
        self.conductor = Conductor(lambda: self.rig, logbook=f"{self.scratch.name}/logbook.sqlite")
        build(self.conductor)
        listening = socket.create_server(("127.0.0.1", 0))
        self.address = f"127.0.0.1:{listening.getsockname()[1]}"
        door = Door(mounted(), frozenset({self.address}))
        self.server = uvicorn.Server(uvicorn.Config(door, log_level="warning"))
        self.thread = threading.Thread(
            target=self.server.run, kwargs={"sockets": [listening]}, daemon=True
        )
        self.thread.start()
        self.conductor.open()
        self.browser = _browser(Path(self.scratch.name) / "browser")

    def close(self) -> None:
        """Put everything away."""
        self.browser.quit()
        self.conductor.close()
        self.server.should_exit = True
        self.thread.join(10)
        self.scratch.cleanup()

    # --- looking
    def go(self, where: str) -> None:
        """Open a screen."""
        self.browser.get(f"http://{self.address}{where}")
        self.seen("page")
        time.sleep(0.8)

    def part(self, name: str) -> WebElement:
        """The element of that part."""
        return self.browser.find_element(By.CSS_SELECTOR, f'[data-part="{name}"]')

    def seen(self, name: str, seconds: float = 60.0) -> WebElement:
        """The element of that part, once it is to be seen."""
        return _until(lambda: (one := self.part(name)).is_displayed() and one, seconds)

    def until(self, wanted: Callable[[Scene], bool], seconds: float = 120.0) -> Scene:
        """The scene, once it is as wanted."""
        return self.conductor.wait_for(wanted, seconds)

    def take(self, name: str, *, whole: bool = True) -> None:
        """Take the screen at both sizes, light and dark; the whole page, or what is in view."""
        for size, (width, height) in SIZES.items():
            for theme in THEMES:
                self._as(size, width, height, theme)
                time.sleep(0.5)
                how = {"format": "png", "captureBeyondViewport": whole}
                if whole:
                    tall = self.browser.execute_script(
                        "return document.documentElement.scrollHeight"
                    )
                    how["clip"] = {"x": 0, "y": 0, "width": width, "height": tall, "scale": 1}
                shot = self.browser.execute_cdp_cmd("Page.captureScreenshot", how)
                path = self.folder / f"{name}-{size}-{theme}.png"
                path.write_bytes(base64.b64decode(shot["data"]))
                wider = self.browser.execute_script(
                    "return document.documentElement.scrollWidth - window.innerWidth"
                )
                if wider > 0:
                    sys.stderr.write(f"{path.name}: {wider} pixels wider than the screen\n")

    def _as(self, size: str, width: int, height: int, theme: str) -> None:
        self.browser.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride",
            {
                "width": width,
                "height": height,
                "deviceScaleFactor": 1,
                "mobile": size == "phone",
            },
        )
        self.browser.execute_cdp_cmd(
            "Emulation.setEmulatedMedia",
            {"features": [{"name": "prefers-color-scheme", "value": theme}]},
        )

    # --- turning
    def turn_until(self, near_cents: float, seconds: float = 60.0) -> bool:
        """Turn the trimmer that is asked for until the reading is that near; False if it ended."""
        turning = self.conductor.scene.turning
        # The rig's Heron is too sharp at the top: the way that is usually right comes first.
        step, best, sense = 0.02, None, 1.0 if turning and turning.clockwise else -1.0
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            scene = self.conductor.scene
            if turning is None or scene.turning is not turning:
                return False
            points = self.conductor.feed.since(0)["points"][-4:]
            if len(points) < 4:
                time.sleep(0.05)
                continue
            off = sum(cents for _, cents in points) / len(points) - turning.aim_cents
            if abs(off) <= near_cents:
                return True
            if best is not None and abs(off) > best + 0.3:
                sense = -sense
                best = abs(off)
            best = abs(off) if best is None else min(best, abs(off))
            turns = sense * min(step, 0.012 * abs(off))
            self.conductor.turn(scene.leader, turning.trimmer, turns)
            time.sleep(0.12)
        raise TimeoutError(f"{turning.trimmer if turning else 'nothing'} was not turned home")

    def turn_home(self) -> None:
        """Turn until this turn is over."""
        turning = self.conductor.scene.turning
        if turning is not None and self.turn_until(0.4 * turning.window_cents):
            try:
                self.until(lambda scene: scene.turning is not turning, 6.0)
            except TimeoutError:
                self.conductor.advance(self.conductor.scene.leader)
                self.until(lambda scene: scene.turning is not turning, 10.0)


def _first(studio: Studio) -> None:
    page = Path(studio.scratch.name) / "first.html"
    page.write_text(first_page(), encoding="utf-8")
    studio.browser.get(page.as_uri())
    studio.take("first")


def _start(studio: Studio) -> None:
    studio.go("/")
    studio.seen("oscillators")
    studio.take("start")


def _warm_up(studio: Studio) -> None:
    studio.go("/warm-up")
    studio.seen("start").click()
    studio.until(lambda scene: len(scene.readings) > 400 or scene.phase is Phase.ENDED)
    studio.take("warm-up")
    _end(studio)


def _instrument(studio: Studio) -> None:
    studio.go("/instrument")
    studio.seen("start")
    studio.take("instrument-begin")
    studio.part("start").click()
    _until(lambda: _answer(studio) or studio.conductor.scene.phase is Phase.ENDED, 120.0)
    time.sleep(1.0)
    studio.take("instrument")
    studio.take("instrument-first", whole=False)


def _logbook(studio: Studio) -> None:
    studio.go("/logbook")
    studio.seen("due")
    time.sleep(1.0)
    studio.take("logbook")


def _certificate(studio: Studio) -> None:
    studio.go("/certificate")
    studio.seen("certificate")
    time.sleep(0.5)
    studio.take("certificate")


def _following(studio: Studio) -> None:
    studio.conductor.join("another", "phone")
    studio.conductor.lead("another")
    studio.go("/trim")
    studio.take("following")
    studio.conductor.trim("another", "Dunlin", 24.0, 84.0)
    studio.until(lambda scene: scene.turning is not None)
    studio.turn_until(3.0)
    studio.take("following-turn", whole=False)
    _end(studio)


def _survey(studio: Studio) -> None:
    studio.go("/survey")
    studio.seen("start")
    studio.take("survey-begin")
    for name in ("Plover", "Dunlin", "Bittern", "Heron"):
        box = studio.part(f"oscillator-{name}")
        studio.browser.execute_script("arguments[0].click()", box)
    time.sleep(0.5)
    studio.part("start").click()
    studio.until(lambda scene: len(scene.readings) >= 4)
    studio.take("surveying")
    studio.until(lambda scene: scene.phase is Phase.ENDED)
    studio.seen("note-higher")
    for _ in range(4):
        studio.part("note-higher").click()
        time.sleep(0.2)
    studio.take("survey")
    studio.browser.execute_script("arguments[0].scrollIntoView()", studio.part("result-Wren"))
    studio.take("survey-sheet", whole=False)


def _trim(studio: Studio) -> None:
    studio.go("/trim")
    studio.seen("start")
    Select(studio.part("target")).select_by_value("beats")
    studio.seen("amount")
    studio.take("trim-begin")
    Select(studio.part("target")).select_by_value("flat")
    studio.part("start").click()
    studio.until(lambda scene: len(scene.readings) >= 5)
    studio.take("trim-hearing", whole=False)
    studio.until(lambda scene: scene.turning is not None)
    studio.turn_until(5.0)
    studio.take("trim-probe", whole=False)
    studio.rig.slow(True)
    studio.conductor.advance(studio.conductor.scene.leader)
    studio.until(lambda scene: scene.turning is None)
    studio.take("trim-far", whole=False)
    studio.rig.slow(False)
    studio.until(lambda scene: scene.turning is not None and not scene.turning.probe)
    studio.turn_until(2.5)
    time.sleep(1.2)
    studio.take("trim-near", whole=False)
    while studio.conductor.scene.phase.busy:
        studio.turn_home()
        time.sleep(0.1)
    studio.seen("verdict")
    time.sleep(0.5)
    studio.take("verdict")
    studio.part("survey-left").click()
    studio.until(lambda scene: scene.procedure == "survey" and scene.phase is Phase.ENDED)
    studio.seen("headline")
    studio.take("survey-left")


def _practise(studio: Studio) -> None:
    studio.go("/practice")
    studio.seen("start")
    studio.take("practice-begin")
    studio.conductor.hide(studio.conductor.scene.leader, Hidden.HERE)
    studio.browser.execute_script("arguments[0].click()", studio.part("oscillator-Wren"))
    time.sleep(0.5)
    studio.part("start").click()
    studio.until(lambda scene: scene.turning is not None)
    time.sleep(1.0)
    studio.take("practice-begin-turn", whole=False)
    studio.turn_until(4.0)
    studio.conductor.advance(studio.conductor.scene.leader)
    studio.until(lambda scene: scene.turning is not None and scene.turning.turn > 1)
    studio.seen("missed")
    studio.take("practice-by-ear", whole=False)
    studio.conductor.hide(studio.conductor.scene.leader, Hidden.NOBODY)
    _end(studio)


def _end(studio: Studio) -> None:
    if studio.conductor.scene.phase.busy:
        studio.conductor.stop(studio.conductor.scene.leader)
        studio.until(lambda scene: not scene.phase.busy)


def _answer(studio: Studio) -> bool:
    question = studio.conductor.scene.question
    if question is not None:
        studio.conductor.choose(studio.conductor.scene.leader, question.default)
        time.sleep(0.2)
    return False


def _until(wanted: Callable[[], Any], seconds: float) -> Any:
    end = time.monotonic() + seconds
    while True:
        try:
            found = wanted()
        except Exception:
            if time.monotonic() > end:
                raise
            found = None
        if found:
            return found
        if time.monotonic() > end:
            raise TimeoutError(f"not so after {seconds:g} s")
        time.sleep(0.1)


def _browser(kept_in: Path) -> webdriver.Chrome:
    os.environ.update(SE_OFFLINE="true", SE_AVOID_STATS="true")
    options = Options()
    options.binary_location = shutil.which("chromium") or "/usr/bin/chromium"
    for flag in (
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--hide-scrollbars",
        f"--user-data-dir={kept_in}",
    ):
        options.add_argument(flag)
    driver = shutil.which("chromedriver") or "/usr/bin/chromedriver"
    return webdriver.Chrome(options=options, service=Service(driver))


STEPS: dict[str, Callable[[Studio], None]] = {
    "first": _first,
    "start": _start,
    "survey": _survey,
    "trim": _trim,
    "practice": _practise,
    "warm-up": _warm_up,
    "instrument": _instrument,
    "logbook": _logbook,
    "certificate": _certificate,
    "following": _following,
}


def main() -> None:
    """Take all pictures."""
    asked = argparse.ArgumentParser(description="Take pictures of every screen of the page.")
    asked.add_argument("folder", type=Path)
    asked.add_argument("--docs", action="store_true", help="the four of the docs as well")
    asked.add_argument("--speed", type=float, default=4.0, help="how fast the rig runs")
    asked.add_argument("--long", action="store_true", help="with words as long as Finnish ones")
    asked.add_argument("--only", nargs="*", choices=STEPS, help="these screens alone")
    given = asked.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)
    if given.long:
        texts.ENGLISH.update(texts.stretched(texts.ENGLISH))
    studio = Studio(given.folder, given.speed)
    try:
        studio.until(lambda scene: scene.connected is not None)
        for name, step in STEPS.items():
            if not given.only or name in given.only:
                step(studio)
    finally:
        studio.close()
    if given.docs:
        for name, taken in IN_DOCS.items():
            # 256 colours are plenty, and a third of the size.
            picture = Image.open(given.folder / f"{taken}.png").convert("RGB")
            picture.quantize(256, dither=Image.Dither.NONE).save(DOCS / name, optimize=True)


if __name__ == "__main__":
    main()
