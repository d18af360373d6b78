"""The few kinds of element that screens are made of.

Plain HTML, so that a browser's own manners (focus, keys, names for screen readers) come with them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from nicegui import ui
from nicegui.elements.mixins.text_element import TextElement

from pitchwright.web.texts import say

__all__ = ["Tag", "caution", "choice", "entry", "key", "link", "name_part", "tag"]


class Tag(TextElement):
    """An element of any kind that holds words."""

    def __init__(self, kind: str, text: str = "", classes: str = "", part: str = "") -> None:
        super().__init__(tag=kind, text=text)
        self.classes(classes)
        name_part(self, part)


def tag(kind: str, classes: str = "", part: str = "") -> ui.element:
    """An element of any kind that holds others."""
    element = ui.element(kind).classes(classes)
    name_part(element, part)
    return element


def name_part(element: ui.element, part: str) -> None:
    """Name an element for tests and scripts, whatever it looks like."""
    if part:
        element.props["data-part"] = part


def key(
    text: str,
    pressed: Callable[[], Any],
    classes: str = "",
    part: str = "",
    small: str = "",
    name: str = "",
) -> Tag:
    """Something to press: a button with words, and perhaps a second line in small."""
    button = Tag("button", "" if small else text, f"pw-key {classes}", part)
    button.props["type"] = "button"
    if name:
        button.props["aria-label"] = name
    if small:
        with button:
            Tag("span", text)
            Tag("small", small)
    button.on("click", pressed, args=[])
    return button


def link(text: str, to: str, classes: str = "", part: str = "") -> Tag:
    """A link within the page."""
    element = Tag("a", text, classes, part)
    element.props["href"] = to
    return element


def caution(*sentences: str) -> ui.element:
    """A caution, at the place where it is due."""
    with tag("div", "pw-caution", "caution") as box:
        Tag("b", say("caution"))
        for sentence in sentences:
            Tag("p", sentence)
    return box


def choice(
    label: str,
    options: Mapping[str, str],
    chosen: str,
    changed: Callable[[str], Any],
    part: str = "",
) -> ui.element:
    """One of several, as the browser's own list."""
    with tag("div", "pw-field") as field:
        heading = Tag("label", label)
        select = tag("select", part=part)
        heading.props["for"] = f"c{select.id}"
        with select:
            for value, words in options.items():
                option = Tag("option", words)
                option.props["value"] = value
                if value == chosen:
                    option.props["selected"] = True
        select.on(
            "change", lambda event: changed(str(event.args)), js_handler="e => emit(e.target.value)"
        )
    return field


def entry(
    label: str, changed: Callable[[str], Any], part: str = "", *, number: bool = False
) -> ui.element:
    """A line to be written into: words, or a number with point or comma."""
    with tag("div", "pw-field") as field:
        heading = Tag("label", label)
        line = tag("input", part=part)
        heading.props["for"] = f"c{line.id}"
        line.props["type"] = "text"
        line.props["autocomplete"] = "off"
        if number:
            line.props["inputmode"] = "decimal"
        line.on(
            "change", lambda event: changed(str(event.args)), js_handler="e => emit(e.target.value)"
        )
    return field
