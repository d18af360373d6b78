"""Colours of what is drawn, by what they stand for, on light paper and on dark.

Blue, orange, green and grey differ in lightness as well as in hue, so that they stay apart for
colour-blind eyes and on a grey printer; and none carries meaning alone.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Final, Literal

__all__ = ["DARK", "LIGHT", "PAPER", "ROLES", "Palette", "Theme", "style"]

Theme = Literal["system", "light", "dark", "paper"]
"""As the system that shows it prefers, always light, always dark, or for print."""


@dataclass(frozen=True, slots=True)
class Palette:
    """One colour for each role."""

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


ROLES: Final = Palette(**{one.name: one.name for one in fields(Palette)})
"""Every role under its own name: what marks are drawn with; a style says the colours."""
_FORCED: Final = Palette(
    paper="Canvas",
    ink="CanvasText",
    soft="CanvasText",
    rule="GrayText",
    strong="LinkText",
    band="Canvas",
    faint="GrayText",
    doubt="CanvasText",
    within="LinkText",
    white_key="Canvas",
    black_key="CanvasText",
    key_edge="CanvasText",
)
"""Where the reader's system forces its own colours (CSS Color 4, system colours)."""


def style(theme: Theme) -> str:
    """Style sheet of a drawing: what each role looks like, and where."""
    if theme != "system":
        return _rules({"light": LIGHT, "dark": DARK, "paper": PAPER}[theme])
    return (
        f"{_rules(LIGHT)}"
        f"@media (prefers-color-scheme: dark){{{_rules(DARK)}}}"
        f"@media print{{{_rules(PAPER)}}}"
        f"@media (forced-colors: active){{{_rules(_FORCED)}}}"
    )


def _rules(palette: Palette) -> str:
    """Lines first: what has a colour for its line and one for its inside keeps both."""
    roles = {one.name: getattr(palette, one.name) for one in fields(palette)}
    lines = "".join(f".line-{name}{{fill:none;stroke:{is_}}}" for name, is_ in roles.items())
    return lines + "".join(f".fill-{name}{{fill:{is_}}}" for name, is_ in roles.items())
