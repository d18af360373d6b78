"""Colours of what is drawn, by what they stand for, on light paper and on dark.

Blue, orange, green and grey differ in lightness as well as in hue, so that they stay apart for
colour-blind eyes and on a grey printer; and none carries meaning alone.
"""

from __future__ import annotations

from dataclasses import astuple, dataclass, replace
from typing import Final, Literal

__all__ = ["DARK", "LIGHT", "PAPER", "Palette", "Theme", "dark_style"]

Theme = Literal["system", "light", "dark"]


@dataclass(frozen=True, slots=True)
class Palette:
    """One colour for each role; all differ, so that a style sheet can tell roles by colour."""

    paper: str
    ink: str
    soft: str
    rule: str
    strong: str
    band: str
    faint: str
    doubt: str
    within: str
    white_key: str
    black_key: str
    key_edge: str


LIGHT: Final = Palette(
    paper="#fdfbf5",
    ink="#1d2530",
    soft="#59626e",
    rule="#dcd7ca",
    strong="#0a5c9e",
    band="#d9e7f1",
    faint="#8f959d",
    doubt="#b34a06",
    within="#1f7a4f",
    white_key="#fffefb",
    black_key="#333b46",
    key_edge="#9b978c",
)
DARK: Final = Palette(
    paper="#14181e",
    ink="#ebe6da",
    soft="#a6aeb8",
    rule="#2e3540",
    strong="#6bb8ee",
    band="#1d3242",
    faint="#7d8590",
    doubt="#ff9a5a",
    within="#4fc98d",
    white_key="#cfcabd",
    black_key="#0b0d11",
    key_edge="#59606b",
)
PAPER: Final = replace(LIGHT, paper="#ffffff", white_key="#ffffff")
"""For print: the paper is white already."""


def dark_style() -> str:
    """Style sheet that turns what was drawn in ``LIGHT`` into ``DARK`` where the system is dark."""
    rules = [
        f'[style*="{kind}: {light}"]{{{kind}:{dark} !important}}'
        for light, dark in zip(astuple(LIGHT), astuple(DARK), strict=True)
        for kind in ("fill", "stroke")
    ]
    return "@media (prefers-color-scheme: dark){" + "".join(rules) + "}"
