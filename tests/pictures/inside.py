"""Whether words stay in a picture, measured with the faces themselves and not by our own table.

The faces are DejaVu 2.37 as matplotlib, which nothing of ours uses, ships them; fontTools reads
their table of widths (OpenType, ``hmtx``).
"""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec
from pathlib import Path
from unicodedata import normalize
from xml.etree import ElementTree

from fontTools.ttLib import TTFont


@cache
def _face(name: str) -> tuple[dict[int, str], dict[str, tuple[int, int]], int]:
    spec = find_spec("matplotlib")
    assert spec is not None
    assert spec.origin is not None
    font = TTFont(Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf" / f"{name}.ttf")
    return font.getBestCmap(), font["hmtx"].metrics, font["head"].unitsPerEm


def width(words: str, size: float, face: str) -> float:
    """Width of a line in the unit of ``size``; what the face does not hold is left out."""
    glyphs, metrics, per_em = _face(face)
    every = [glyphs[ord(c)] for c in normalize("NFC", words) if ord(c) in glyphs]
    return size * sum(metrics[glyph][0] for glyph in every) / per_em


def stays_inside(svg: str) -> None:
    """Fail where a word leaves the picture, or where there is none."""
    root = ElementTree.fromstring(svg)
    wide, high = float(root.attrib["width"]), float(root.attrib["height"])
    texts = [node for node in root.iter() if node.tag.endswith("}text")]
    assert texts
    for node in texts:
        words, size = "".join(node.itertext()), float(node.attrib["font-size"])
        serif, bold = "font-family" in node.attrib, "font-weight" in node.attrib
        face = "DejaVuSerif" if serif else "DejaVuSans-Bold" if bold else "DejaVuSans"
        across = width(words, size, face)
        share = {"middle": 0.5, "end": 1.0}.get(node.attrib.get("text-anchor", ""), 0.0)
        left = float(node.attrib["x"]) - share * across
        down = float(node.attrib["y"])
        assert left >= 0.0, words
        assert left + across <= wide, words
        assert size <= down + 0.3 * size <= high, words
