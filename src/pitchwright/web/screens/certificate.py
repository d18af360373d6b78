"""The certificate: what it will say, and the PDF of it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from nicegui import ui

from pitchwright.web.scene import Scene
from pitchwright.web.screens.book import read_beside
from pitchwright.web.screens.frame import Frame
from pitchwright.web.screens.pieces import Tag, caution, choice, key, tag
from pitchwright.web.texts import say

if TYPE_CHECKING:
    from pitchwright.certificate.contents import Contents

__all__ = ["CertificateScreen"]


@dataclass(frozen=True, slots=True)
class _Said:
    """What a certificate says first."""

    name: str
    contents: Contents
    headline: str
    second: str


class CertificateScreen:
    """The screen that hands out certificates."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        self._asked = ""
        self._read_once = False
        self._said: _Said | None = None
        with tag("div", "pw-column"):
            Tag("h1", say("certificate.title"))
            Tag("p", say("certificate.lead"), "pw-lead")
            self._choice = tag("div", "pw-fields")
            self._none = Tag("p", "", "pw-lead", "no-certificate")
            with tag("div", "pw-results", "certificate") as self._box:
                self._headline = Tag("h2", "", part="certificate-headline")
                self._second = Tag("p", "", "pw-lead", "certificate-second")
                self._invented = Tag("p", "", "pw-soft", "invented")
                with tag("div", "pw-keys"):
                    key(say("certificate.a4"), lambda: self._pdf("a4"), "pw-first", "pdf-a4")
                    key(say("certificate.letter"), lambda: self._pdf("letter"), "", "pdf-letter")
                    key(say("certificate.label"), self._label, "", "pdf-label")
                caution(say("certificate.label tip"))
            self._box.set_visibility(False)

    def show(self, scene: Scene) -> None:
        """Read the logbook once it is there."""
        if self._read_once or scene.connected is None:
            return
        self._read_once = True
        if self._frame.conductor.logbook is None:
            self._none.set_text(say("logbook.none"))
            return
        read_beside(self._frame, self._read_names, self._show_names, "certificates")

    def live(self, feed: dict[str, Any]) -> dict[str, Any] | None:
        """Nothing is turned here."""
        del feed
        return None

    def _read_names(self) -> tuple[str, ...]:
        from pitchwright.logbook.history import instruments

        logbook = self._frame.conductor.logbook
        known = () if logbook is None else instruments(logbook)
        return tuple(one.name for one in known if one.surveys)

    def _show_names(self, names: tuple[str, ...]) -> None:
        if not names:
            self._none.set_text(say("certificate.none"))
            return
        with self._choice:
            options = {name: name for name in names}
            choice(say("logbook.instrument"), options, names[0], self._choose, "instrument")
        self._choose(names[0])

    def _choose(self, name: str) -> None:
        self._asked = name
        read_beside(self._frame, lambda: self._read(name), self._draw, "certificate")

    def _read(self, name: str) -> _Said:
        from pitchwright.certificate.statements import headline, second_sentence
        from pitchwright.upkeep.certifying import certificate_of

        logbook = self._frame.conductor.logbook
        assert logbook is not None
        contents = certificate_of(logbook, name)
        return _Said(contents.name, contents, headline(contents), second_sentence(contents))

    def _draw(self, said: _Said) -> None:
        if said.name != self._asked:
            return
        self._said = said
        self._box.set_visibility(True)
        self._headline.set_text(said.headline)
        self._second.set_text(said.second)
        self._invented.set_text(say("certificate.invented") if said.contents.invented else "")

    # ------------------------------------------------------------------ pressed

    def _pdf(self, paper: str) -> None:
        said = self._said
        if said is None:
            return

        def made() -> bytes:
            from pitchwright.certificate.certificate import certificate_pdf
            from pitchwright.certificate.typeset import PAPERS

            chosen = next(one for one in PAPERS if one == paper)
            return certificate_pdf(said.contents, chosen)

        self._hand_out(made, f"{_file_name(said.name)}-certificate.pdf")

    def _label(self) -> None:
        said = self._said
        if said is None:
            return

        def made() -> bytes:
            from pitchwright.certificate.label import labels_pdf

            return labels_pdf((said.contents,))

        self._hand_out(made, f"{_file_name(said.name)}-label.pdf")

    def _hand_out(self, made: Any, name: str) -> None:
        def handed(pdf: bytes) -> None:
            with self._box:
                ui.download.content(pdf, name, media_type="application/pdf")

        read_beside(self._frame, made, handed, name)


def _file_name(name: str) -> str:
    """The instrument's name as the name of a file."""
    return re.sub(r"[^\w-]+", "-", name.casefold()).strip("-") or "instrument"
