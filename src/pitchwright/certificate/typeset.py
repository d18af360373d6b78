"""From plain data and a template to a PDF, by typst, with nothing looked up anywhere else.

The data go in as JSON and are only ever shown as text, so that no name, however odd, is obeyed. The
faces are those that typst brings; only where a text has a letter none of them holds are the
system's faces asked, and where they lack it too, its code point is printed in brackets.
"""

from __future__ import annotations

import json
import unicodedata
from datetime import date
from functools import lru_cache
from importlib import resources
from typing import Any, Final, Literal

from pitchwright.errors import InternalError

__all__ = ["PAPERS", "Paper", "first_page", "plain_words", "typeset"]

Paper = Literal["a4", "letter"]
PAPERS: Final[tuple[Paper, ...]] = ("a4", "letter")

_STANDARDS: Final[list[Literal["a-2a", "ua-1"]]] = ["a-2a", "ua-1"]
"""PDF/A-2a to be kept (ISO 19005-2), PDF/UA-1 to be read aloud (ISO 14289-1)."""
_OURS: Final = frozenset("±−–’“”·≤≥×○●…♯♭→°²|")
"""Letters of our own sentences that the faces are known to hold."""
_MOST_STRANGE: Final = 400
_BREAKS: Final = frozenset({"Cc", "Zl", "Zp"})
_INVISIBLE: Final = frozenset({"Cf", "Cs", "Co", "Cn"})


def plain_words(words: str, most: int = 400) -> str:
    """One line of visible characters, at most ``most`` of them, then how many there were."""
    line = _one_line(words)
    if len(line) <= most:
        return line
    return f"{line[:most].rstrip()}… ({len(line):,} characters in all)"


def _one_line(words: str) -> str:
    # Composed: a mark by itself has no shape in most faces, the letter with it has.
    kept = (
        " " if unicodedata.category(c) in _BREAKS else c
        for c in unicodedata.normalize("NFC", words)
        if c.isspace() or unicodedata.category(c) not in _INVISIBLE
    )
    return " ".join("".join(kept).split())


def _visible(data: Any) -> Any:
    """The same data with every text on one line and nothing in it that cannot be seen."""
    if isinstance(data, str):
        return _one_line(data)
    if isinstance(data, dict):
        return {name: _visible(item) for name, item in data.items()}
    if isinstance(data, list | tuple):
        return [_visible(item) for item in data]
    return data


def typeset(template: str, data: dict[str, Any], dated: date) -> bytes:
    """Typeset ``data`` with the template of that name beside this file, as PDF.

    Parameters
    ----------
    template
        File name, such as ``certificate.typ``.
    data
        JSON-able; the template says what it reads.
    dated
        The day written into the file as its date of making, so that the same data give the same
        bytes.
    """
    return _typeset(template, data, dated, None)


def first_page(template: str, data: dict[str, Any], dated: date, per_inch: float) -> bytes:
    """The first page of what `typeset` gives, as a PNG picture of so many pixels an inch."""
    return _typeset(template, data, dated, per_inch)


def _typeset(template: str, data: dict[str, Any], dated: date, per_inch: float | None) -> bytes:
    from typst import TypstError

    source = resources.files("pitchwright.certificate").joinpath(template).read_bytes()
    shown = {**_visible(data), "dated": [dated.year, dated.month, dated.day]}
    text = json.dumps(shown, ensure_ascii=False)
    strange = sorted({c for c in text if not c.isascii()} - _OURS)[:_MOST_STRANGE]
    own = [c for c in strange if not _shows(c, system=False)]
    if not own:
        return _run(source, text, system=False, per_inch=per_inch)
    missing = [c for c in own if not _shows(c, system=True)]
    try:
        return _run(source, _without(text, missing), system=True, per_inch=per_inch)
    except TypstError:
        # Letters that only fail together (a mark without the letter it belongs to).
        return _run(source, _without(text, own), system=False, per_inch=per_inch)


def _without(text: str, missing: list[str]) -> str:
    # These are outside ASCII, so inside JSON's quotes they are nothing but text.
    return text.translate({ord(c): f"[U+{ord(c):04X}]" for c in missing})


@lru_cache(maxsize=4096)
def _shows(letter: str, *, system: bool) -> bool:
    """Whether a letter can be shown; tried on a page of its own."""
    from typst import TypstError

    page = b'#set text(font: "Libertinus Serif")\n#set document(title: "-")\n#sys.inputs.data'
    try:
        _run(page, letter, system=system, per_inch=None)
    except TypstError:
        return False
    return True


def _run(source: bytes, text: str, *, system: bool, per_inch: float | None) -> bytes:
    import typst

    made = typst.compile(
        source,
        format="pdf" if per_inch is None else "png",
        ppi=per_inch,
        sys_inputs={"data": text},
        ignore_system_fonts=not system,
        font_paths=_fonts(system=system),
        pdf_standards=[*_STANDARDS] if per_inch is None else [],
    )
    page = made[0] if isinstance(made, list) and made else made
    if not isinstance(page, bytes):
        raise InternalError("The typesetter gave no page")
    return page


@lru_cache(maxsize=2)
def _fonts(*, system: bool) -> Any:
    import typst

    return typst.Fonts(include_system_fonts=system)
