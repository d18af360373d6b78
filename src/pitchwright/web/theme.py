"""The head of every page: colours from the one palette, style sheet and scripts, all from here."""

from __future__ import annotations

from dataclasses import fields

from pitchwright.pictures.palette import DARK, LIGHT, Palette

__all__ = ["head_html", "palette_css"]


def palette_css() -> str:
    """The palette as custom properties, light and dark as the system prefers."""
    return (
        f":root{{color-scheme:light dark;{_properties(LIGHT)}}}"
        f"@media (prefers-color-scheme: dark){{:root{{{_properties(DARK)}}}}}"
    )


def head_html() -> str:
    """What goes into the head."""
    return (
        f"<style>{palette_css()}</style>"
        '<link rel="stylesheet" href="/looks/page.css">'
        # Messages that come before the scripts are there are not worth keeping.
        "<script>window.pitchwright = { begin() {}, live() {} }</script>"
        '<script type="module" src="/looks/page.js"></script>'
    )


def _properties(palette: Palette) -> str:
    return ";".join(
        f"--{one.name.replace('_', '-')}:{getattr(palette, one.name)}" for one in fields(palette)
    )
