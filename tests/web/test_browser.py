"""The page in a real browser, as a person with few hands uses it."""

from __future__ import annotations

import contextlib
import os
import re
import subprocess
import time
from pathlib import Path
from typing import Any

import pytest
from selenium.common.exceptions import WebDriverException
from selenium.webdriver.common.keys import Keys

from pitchwright.cli.practising import rehearse

pytestmark = pytest.mark.needs("chromium", "chromium-driver")

LONG_S = 90.0
PHONE, LAPTOP = (390, 844), (1280, 800)
FAST = ("--practice", "--speed", "10")


def until(wanted: Any, what: str, timeout_s: float = LONG_S) -> None:
    end_s = time.monotonic() + timeout_s
    while not wanted():
        assert time.monotonic() < end_s, f"it never came to pass that {what}"
        time.sleep(0.03)


_LOOK = """
const at = (part) => document.querySelector(`[data-part="${part}"]`);
const shown = (part) => Boolean(at(part)?.offsetParent);
return {doing: at('doing')?.innerText ?? '', figure: at('reading')?.innerText ?? '',
        sense: at('sense')?.innerText ?? '', trimmer: at('slider')?.dataset.trimmer ?? '',
        turned: at('turns')?.innerText ?? '', messages: window.messages ?? 0,
        turning: shown('slider'), over: shown('verdict')};
"""
_COUNT = """
window.messages = 0;
const before = window.pitchwright.live;
window.pitchwright.live = (message) => { before(message); window.messages += 1; };
"""
_FRESH = 6
"""After so many messages a reading owes nothing to what was before."""


class ByKeys:
    """A person who trims with a keyboard only, going by what the page says."""

    def __init__(self, browser: Any) -> None:
        self.browser = browser
        self.gains: dict[str, float] = {}
        self.browser.run(_COUNT)

    def look(self) -> tuple[dict[str, Any], float | None]:
        """What the page says, and how far off the reading is: flat below zero, None if unsaid."""
        seen = self.browser.run(_LOOK)
        figure = seen["figure"].replace("−", "-")
        if not re.fullmatch(r"-?[0-9.]+", figure):
            return seen, None
        return seen, -abs(float(figure)) if "flat" in seen["sense"] else abs(float(figure))

    def trim(self) -> int:
        """Follow the page until its verdict; how many turns it took."""
        turns, asked, since = 0, "", 0
        end_s = time.monotonic() + 2.0 * LONG_S
        while True:
            assert time.monotonic() < end_s, "no verdict"
            seen, at = self.look()
            if seen["over"]:
                return turns
            if self.browser.shows("choice-done"):  # screwdriver and hand are to go
                self.browser.tab_to("choice-done")
                self.browser.press(Keys.ENTER)
                until(lambda: not self.browser.shows("choice-done"), "the answer is taken")
            if not seen["turning"] or at is None:
                time.sleep(0.02)
                continue
            if seen["doing"] != asked:
                asked, turns, since = seen["doing"], turns + 1, seen["messages"]
            if seen["sense"] == "inside" or seen["messages"] < since + _FRESH:
                time.sleep(0.02)  # it goes on by itself, or nothing is known of it yet
                continue
            self.nudge(seen, at)

    def nudge(self, seen: dict[str, Any], at: float) -> None:
        """Bring the reading nearer; the first time, feel which way and how much."""
        trimmer = seen["trimmer"]
        gain = self.gains.get(trimmer)
        wanted = 0.05 if gain is None else -at / gain
        try:
            self.browser.tab_to("slider")
        except AssertionError:
            assert not self.look()[0]["turning"]  # the turn ended meanwhile
            return
        with contextlib.suppress(WebDriverException):  # the turn ended under the finger
            self.browser.press(*keys_for(wanted))
        after, now = self.settled(seen)
        if now is not None and after["trimmer"] == trimmer and abs(now - at) > 0.6:
            self.gains[trimmer] = (now - at) / wanted

    def settled(self, before: dict[str, Any]) -> tuple[dict[str, Any], float | None]:
        """What the page says once no more keys reach the machine and the reading is of after."""
        seen, at = self.look()
        turned, since = before["turned"], seen["messages"]
        end_s = time.monotonic() + LONG_S
        while time.monotonic() < end_s and seen["messages"] < since + _FRESH:
            time.sleep(0.02)
            seen, at = self.look()
            if not seen["turning"] or seen["doing"] != before["doing"]:
                break
            if seen["turned"] != turned:  # and perhaps more of the keys are on their way
                turned, since = seen["turned"], seen["messages"]
        return seen, at


def keys_for(turns: float) -> list[str]:
    """Half turns by Home and End, the rest by fine steps of the arrows; never too far and back."""
    steps = round(max(-1.5, min(1.5, turns)) / 0.005)
    halves, left = divmod(abs(steps), 100)
    end, arrow = (Keys.END, Keys.ARROW_UP) if steps > 0 else (Keys.HOME, Keys.ARROW_DOWN)
    return [*[end] * halves, *[arrow * left] * bool(left)]


def begin_trim(browser: Any, served: Any) -> None:
    """To the trim screen and its beginning, by keyboard."""
    browser.open(f"{served.address}/trim")
    until(lambda: browser.shows("start") and "Heron" in browser.words(), "Heron can be chosen")
    browser.tab_to("start")
    browser.press(Keys.ENTER)
    until(lambda: browser.shows("turn"), "the trim begins")


def only_asked(browser: Any, served: Any) -> None:
    """No request left the machine, and nothing on the page went wrong."""
    assert browser.asked_hosts() == {f"127.0.0.1:{served.port}"}
    assert browser.complaints() == []


def test_a_whole_guided_trim_by_keyboard_alone_on_a_phone(serve_page: Any, browser: Any) -> None:
    served = serve_page(*FAST)
    begin_trim(browser, served)
    assert ByKeys(browser).trim() >= 2
    assert "in tune" in browser.words()
    width = browser.run("return document.documentElement.scrollWidth")
    assert width <= PHONE[0], "nothing hangs out at the side"
    assert browser.run("return window.spoken") == [], "it speaks only where that is switched on"
    only_asked(browser, served)


def test_the_same_with_speech_on(serve_page: Any, browser: Any) -> None:
    served = serve_page(*FAST)
    begin_trim(browser, served)
    browser.tab_to("speak")
    browser.press(Keys.ENTER)
    assert ByKeys(browser).trim() >= 2
    spoken = browser.run("return window.spoken")
    assert any("trimmer" in one for one in spoken), "which trimmer, and which way"
    assert any("Hold still" in one for one in spoken), "that it stands at the aim"
    assert any("in tune" in one for one in spoken), "how it ended"
    only_asked(browser, served)


def test_a_page_that_is_opened_again_or_whose_server_restarts_is_in_the_middle_of_things(
    serve_page: Any, browser: Any
) -> None:
    served = serve_page("--practice", "--speed", "20")
    begin_trim(browser, served)
    until(lambda: browser.shows("slider"), "a trimmer is to be turned")
    where, doing = browser.text("where"), browser.text("doing")
    browser.open("about:blank")
    browser.open(f"{served.address}/trim")
    until(lambda: browser.shows("slider"), "it is to be turned still, and here")
    assert (browser.text("where"), browser.text("doing")) == (where, doing)
    served.stop()
    served.start()
    until(lambda: browser.shows("go-on-again"), "the stopped trim is offered")
    browser.tab_to("go-on-again")
    browser.press(Keys.ENTER)
    until(lambda: browser.shows("slider"), "the trim goes on")
    assert browser.text("where") == where


def test_the_first_page_becomes_live_by_itself(serve_page: Any, browser: Any) -> None:
    served = serve_page("--practice", "--hand")
    browser.open(served.address)  # most likely before there is more than the first page
    assert "Survey: how far is each note off?" in browser.words()
    until(lambda: browser.shows("oscillators"), "the bench is listed")
    assert "Heron" in browser.text("oscillators")
    only_asked(browser, served)


def test_two_screens_see_the_same_and_a_closed_one_stops_nothing(
    serve_page: Any, browse: Any
) -> None:
    served = serve_page("--practice", "--hand", "--speed", "20")
    phone, laptop = browse(PHONE), browse(LAPTOP)
    begin_trim(phone, served)
    laptop.open(f"{served.address}/trim")
    until(lambda: "leads" in laptop.text("lead"), "the laptop says that another screen leads")
    until(lambda: laptop.text("where") != "" and laptop.shows("turn"), "the laptop sees the trim")
    phone.open("about:blank")  # its tab is closed
    until(lambda: laptop.shows("verdict"), "the trim came to its end")
    assert "in tune" in laptop.words()
    only_asked(laptop, served)


def test_a_recording_dropped_onto_the_page_becomes_a_sheet(
    serve_page: Any, browser: Any, tmp_path: Path
) -> None:
    browser.resize(LAPTOP)
    take = tmp_path / "rehearsal.wav"
    rehearse(take, notes="C2..C6 step 12", only="Heron")
    served = serve_page("--practice")
    browser.open(f"{served.address}/survey")
    until(lambda: browser.shows("drop"), "there is a place to drop it")
    inputs = browser.driver.find_elements("css selector", '[data-part="drop-file"]')
    inputs[0].send_keys(str(take))
    until(lambda: browser.shows("dropped-name"), "it was heard")
    assert "rehearsal.wav" in browser.words()
    sheet = browser.driver.find_elements("css selector", '[data-part="dropped"] svg')
    assert sheet, "there is a sheet"
    for note in ("C2", "C6"):
        assert note in browser.text("dropped")
    wrong = tmp_path / "notes.wav"
    wrong.write_bytes(b"not a recording at all")
    inputs = browser.driver.find_elements("css selector", '[data-part="drop-file"]')
    inputs[0].send_keys(str(wrong))
    until(lambda: "notes.wav" in browser.text("dropped"), "what it is not is said")
    assert str(tmp_path) not in browser.words()
    assert "/tmp/" not in browser.words()
    only_asked(browser, served)


@pytest.fixture(scope="session")
def axe(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The source of axe-core, an accessibility checker of others."""
    folder = tmp_path_factory.mktemp("axe")
    command = ["npm", "install", "--prefix", str(folder), "--no-audit", "--no-fund"]
    command += ["--ignore-scripts", "axe-core@4.10.3"]
    installed = subprocess.run(command, capture_output=True, text=True, timeout=180, check=False)
    if installed.returncode:
        if os.environ.get("PITCHWRIGHT_REQUIRE") == "all":
            pytest.fail(installed.stderr)
        pytest.skip("axe-core cannot be had from npm")
    return (folder / "node_modules/axe-core/axe.min.js").read_text(encoding="utf-8")


def violations(browser: Any, axe: str) -> list[str]:
    """What the accessibility checker finds on the page as it is."""
    browser.run(axe)
    found = browser.driver.execute_async_script(
        "const done = arguments[arguments.length - 1];"
        "axe.run(document, {resultTypes: ['violations']}).then((r) => done(r.violations));"
    )
    return [
        f"{one['id']}: {one['help']}: {node['html'][:150]}"
        for one in found
        for node in one["nodes"]
    ]


SCREENS = (
    "",
    "survey",
    "trim",
    "practice",
    "warm-up",
    "instrument",
    "logbook",
    "certificate",
)


# One in two of the four looks at each screen: all four are looked at, each on half of them.
LOOKS = (
    ((PHONE, "light"), (LAPTOP, "dark")),
    ((PHONE, "dark"), (LAPTOP, "light")),
)


@pytest.mark.needs("npm")
def test_no_screen_shuts_anybody_out(serve_page: Any, browser: Any, axe: str) -> None:
    served = serve_page("--practice", "--speed", "20")
    browser.driver.set_script_timeout(60)
    found: dict[str, list[str]] = {}

    def check(screen: str, looks: Any) -> None:
        for size, theme in looks:
            browser.resize(size)
            feature = {"name": "prefers-color-scheme", "value": theme}
            browser.do("Emulation.setEmulatedMedia", features=[feature])
            said = violations(browser, axe)
            if said:
                found[f"{screen}, {size[0]} wide, {theme}"] = said

    for number, screen in enumerate(SCREENS):
        browser.open(f"{served.address}/{screen}")
        until(lambda: browser.shows("main"), "the screen is laid out")
        until(lambda: browser.run("return Boolean(window.socket?.connected)"), "it is live")
        until(lambda: "Setting up" not in browser.text("bench"), "the bench is there")
        check(screen or "start", LOOKS[number % 2])
    begin_trim(browser, served)
    until(lambda: browser.shows("slider"), "a trimmer is to be turned")
    for looks in LOOKS:
        check("turning", looks)
    assert found == {}
    only_asked(browser, served)
