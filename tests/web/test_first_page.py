"""The first page: complete in itself, and the same in words as the start that takes its place."""

from __future__ import annotations

import re
from html.parser import HTMLParser

from nicegui.testing.user_simulation import user_simulation

from pitchwright.web.addresses import ADDRESSES
from pitchwright.web.conductor import Conductor
from pitchwright.web.first_page import first_page
from pitchwright.web.practice_rig import PracticeRig
from pitchwright.web.server import build


class Read(HTMLParser):
    """What is said and where it leads."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.words: list[str] = []
        self._unseen = False
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._unseen = tag in ("style", "script", "title")
        given = dict(attrs)
        if tag == "a":
            self.links.append(given["href"] or "")
        assert "src" not in given, "everything that is shown comes with it"
        assert tag != "link"

    def handle_endtag(self, tag: str) -> None:
        self._unseen = False

    def handle_data(self, data: str) -> None:
        if data.strip() and not self._unseen:
            self.words.append(data.strip())


def test_it_needs_nothing_else_and_leads_everywhere() -> None:
    page = first_page()
    assert set(ADDRESSES.values()) <= set(Read(page).links)
    assert not re.search(r"(?:https?:)?//\w", page)
    assert "@import" not in page
    assert "url(" not in page


async def test_the_live_start_says_the_same() -> None:
    conductor = Conductor(PracticeRig, logbook="none")
    async with user_simulation() as user:
        build(conductor)
        await user.open("/")
        for words in set(Read(first_page()).words):
            await user.should_see(words)
    conductor.close()
