"""How wide words are, and how many of them fit: measured, not guessed.

Advance widths in thousandths of the size, by width, as the files of DejaVu Sans, Sans Bold and
Serif 2.37 hold them (table ``hmtx``). They are the widest of the faces that a drawing asks for, so
that what fits by these fits on every screen.
"""

from __future__ import annotations

from typing import Final
from unicodedata import combining, normalize

__all__ = ["fitted", "text_width", "wrapped"]

_FACES: Final = (
    {
        280: "'ijl",
        290: "ł",
        300: "IJ",
        320: " ,.‘’·",
        340: "/:;\\|",
        360: "f",
        370: "-",
        400: "()[]t",
        410: "!²³¡",
        420: "r",
        460: '"',
        480: "♭",
        490: "♯",
        500: "*_`–°§",
        520: "“”",
        530: "sz",
        540: "?¿",
        550: "c",
        560: "L",
        580: "Fk",
        600: "vxy",
        610: "P",
        620: "TYaeoø«»",
        630: "ß",
        640: "$0123456789ESbdghnpqu{}€µ",
        660: "K",
        690: "ABVXZ",
        700: "CR",
        740: "U",
        750: "N",
        760: "H",
        770: "▲▼◀▶Ω",
        780: "&DG",
        790: "OQ",
        820: "w",
        840: "#+<=>^~−×±→←≤≥",
        870: "M",
        960: "%",
        970: "¼½¾",
        980: "m",
        990: "Wæ",
        1000: "@—…©®",
        1030: "œ",
        1050: "№",
    },
    {
        310: "'",
        350: " ijl",
        370: "/\\|",
        380: ",.IJ‘’·ł",
        400: ":;",
        420: "-",
        440: "f²³",
        460: "!()[]¡",
        480: "t♭",
        490: "♯",
        500: "_`r–°§",
        530: '"*',
        590: "?z¿",
        600: "cs",
        640: "L",
        650: "x«»",
        660: "vy“”",
        670: "k",
        680: "ae",
        690: "EFToø",
        700: "$0123456789€",
        720: "bdghnpqu{}ß",
        730: "SYZ",
        740: "CPµ",
        770: "B▲▼◀▶",
        780: "AKRVX",
        820: "U",
        830: "G",
        840: "#+<=>DHN^~−×±→←≤≥",
        860: "OQΩ",
        880: "&",
        930: "w",
        1000: "@M—…©®",
        1010: "%",
        1040: "¼½¾",
        1050: "mæ",
        1100: "œ",
        1110: "W",
        1210: "№",
    },
    {
        280: "'",
        320: " ,.ijl‘’·",
        330: "ł",
        340: "-/:;\\|",
        380: "f",
        400: "()I[]",
        410: "!Jt²³¡",
        460: '"',
        480: "r♭",
        490: "♯",
        500: "*_`–°§",
        520: "s“”",
        530: "z",
        540: "?¿",
        570: "cvxy",
        600: "ae",
        610: "koø",
        620: "«»",
        640: "$0123456789{}€",
        650: "bdghnpquµ",
        670: "LTYß",
        680: "P",
        690: "S",
        700: "FZ",
        720: "X",
        730: "AEV",
        740: "B",
        750: "K",
        760: "R",
        770: "C▲▼◀▶",
        800: "G",
        810: "D",
        820: "OQ",
        830: "Ω",
        840: "#+<=>^~−×±→←≤≥",
        850: "U",
        860: "w",
        880: "HN",
        900: "&",
        940: "æ",
        950: "m№",
        960: "%",
        970: "¼½¾",
        990: "œ",
        1000: "@—…©®",
        1030: "MW",
    },
)
_OTHER: Final = 1.0
"""Of what the faces do not hold: a full square, as the widest scripts take."""
_WIDTHS: Final = tuple(
    {letter: width / 1000.0 for width, letters in face.items() for letter in letters}
    for face in _FACES
)


def text_width(words: str, size: float, *, bold: bool = False, serif: bool = False) -> float:
    """Width of a line of text, in the unit of ``size``; accents take no room."""
    widths = _WIDTHS[2 if serif else 1 if bold else 0]
    return size * sum(
        widths.get(letter, _OTHER) for letter in normalize("NFD", words) if not combining(letter)
    )


def fitted(words: str, size: float, room: float, *, bold: bool = False, serif: bool = False) -> str:
    """Words as they are where they fit, else as many letters as do, and an ellipsis."""
    if text_width(words, size, bold=bold, serif=serif) <= room:
        return words
    low, high = 0, len(words)
    while low < high:
        middle = (low + high + 1) // 2
        cut = f"{words[:middle].rstrip()}…"
        if text_width(cut, size, bold=bold, serif=serif) <= room:
            low = middle
        else:
            high = middle - 1
    return f"{words[:low].rstrip()}…"


def wrapped(words: str, size: float, room: float, lines: int, *, serif: bool = False) -> list[str]:
    """Words in at most so many lines; the last is cut where there are more."""
    found: list[str] = []
    rest = words.split()
    while rest and len(found) < lines:
        line = rest.pop(0)
        while rest and text_width(f"{line} {rest[0]}", size, serif=serif) <= room:
            line = f"{line} {rest.pop(0)}"
        found.append(line)
    if rest:
        found[-1] = f"{found[-1]} {rest[0]} …"
    return [fitted(line, size, room, serif=serif) for line in found]
