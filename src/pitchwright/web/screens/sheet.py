"""The sheet on a screen: the drawing, and what is to be heard about the note that was touched."""

from __future__ import annotations

from typing import Any

from nicegui import ui

from pitchwright.units import note_name, note_to_hz, ratio_of_cents
from pitchwright.web import texts
from pitchwright.web.screens.frame import Frame
from pitchwright.web.screens.pieces import Tag, key, name_part, tag
from pitchwright.web.sheet_data import Dot, Reached, SheetData
from pitchwright.web.sheet_drawing import NARROW, WIDE, Size, draw_sheet, nearest
from pitchwright.web.texts import say

__all__ = ["SheetPanel"]

_KEYS = "e => { if (['ArrowLeft','ArrowRight','Home','End'].includes(e.key)) { e.preventDefault();"
_KEYS += " e.stopPropagation(); emit(e.key); } }"
_TOUCH = (
    "e => { const r = e.currentTarget.getBoundingClientRect();"
    " emit([(e.clientX - r.left) / r.width, r.width]); }"
)


class SheetPanel:
    """A sheet that can be read note by note.

    Parameters
    ----------
    frame
        About the screen it stands on.
    detail
        Whether notes can be touched; without, it is a picture with its reach in words.
    wide
        Size of the drawing where there is room for more than on a phone.
    """

    def __init__(self, frame: Frame, *, detail: bool = True, wide: Size = WIDE) -> None:
        self._frame, self._detail, self._size = frame, detail, wide
        self._data: SheetData | None = None
        self._chosen: int | None = None
        with tag("section", "pw-sheet", "sheet") as self.box:
            self._legend = ui.html("", sanitize=False).classes("pw-legend")
            with tag("div", "pw-picture", "sheet-picture") as self._picture:
                self._narrow = ui.html("", sanitize=False).classes("pw-narrow")
                self._wide = ui.html("", sanitize=False).classes("pw-wide")
            self._reach = ui.html("", sanitize=False, tag="p").classes("pw-reach")
            name_part(self._reach, "reach")
            if detail:
                self._touchable()
        self.box.set_visibility(False)

    def _touchable(self) -> None:
        picture = self._picture
        picture.props["role"] = "slider"
        picture.props["tabindex"] = "0"
        picture.props["aria-valuemin"] = "0"
        picture.on("keydown", self._keyed, js_handler=_KEYS)
        picture.on("click", self._touched, js_handler=_TOUCH)
        with tag("div", "pw-note-bar"):
            key("‹", lambda: self._step(-1), "pw-quiet", "note-lower", name=say("sheet.lower"))
            self._note = Tag("h3", say("sheet.touch"), part="note-name")
            key("›", lambda: self._step(1), "pw-quiet", "note-higher", name=say("sheet.higher"))
        self._about = ui.html("", sanitize=False).classes("pw-about")
        name_part(self._about, "note-about")
        self._hear = Tag("button", say("sheet.listen"), "pw-key pw-quiet", "hear-note")
        self._hear.props["type"] = "button"
        self._hear.props["aria-pressed"] = "false"
        self._hear.set_visibility(False)

    def show(self, data: SheetData | None) -> None:
        """Show a sheet; nothing where there is none."""
        if data is not None and not data.now:
            data = None
        if data == self._data:
            return
        if data is None or self._data is None or data.name != self._data.name:
            self._chosen = None
        self._data = data
        self.box.set_visibility(data is not None)
        if data is not None:
            if self._chosen is not None:
                self._chosen = min(self._chosen, len(data.now) - 1)
            self._legend.set_content(_legend(data))
            self._reach.set_content("".join(_reach_words(one) for one in _telling(data)))
            self._draw(data)

    def _draw(self, data: SheetData) -> None:
        self._narrow.set_content(draw_sheet(data, NARROW, self._chosen))
        self._wide.set_content(draw_sheet(data, self._size, self._chosen))
        props = self._picture.props
        if not self._detail:
            props["role"] = "img"
            props["aria-label"] = "; ".join(_in_words(dot) for dot in data.now)
            return
        props["aria-label"] = say("sheet.alt", name=data.name)
        props["aria-valuemax"] = str(len(data.now) - 1)
        props["aria-valuenow"] = str(self._chosen or 0)
        chosen = None if self._chosen is None else data.now[self._chosen]
        props["aria-valuetext"] = say("sheet.touch") if chosen is None else _in_words(chosen)
        self._show_note(data, chosen)

    def _show_note(self, data: SheetData, chosen: Dot | None) -> None:
        self._hear.set_visibility(chosen is not None)
        if chosen is None:
            self._note.set_text(say("sheet.touch"))
            self._about.set_content("")
            return
        self._note.set_text(note_name(chosen.note))
        self._about.set_content(_about(data, chosen))
        should_hz = note_to_hz(chosen.note)
        is_hz = should_hz * ratio_of_cents(chosen.cents)
        self._hear.props["data-hear"] = f"{is_hz:.4f} {should_hz:.4f}"

    # ------------------------------------------------------------------ touched

    def _choose(self, index: int) -> None:
        data = self._data
        if data is None:
            return
        self._chosen = min(max(index, 0), len(data.now) - 1)
        self._draw(data)
        self._frame.speak(_in_words(data.now[self._chosen]))

    def _step(self, way: int) -> None:
        at = self._chosen
        self._choose((0 if way > 0 else 10**6) if at is None else at + way)

    def _keyed(self, event: Any) -> None:
        pressed = str(event.args)
        if pressed in ("Home", "End"):
            self._choose(0 if pressed == "Home" else 10**6)
        else:
            self._step(-1 if pressed == "ArrowLeft" else 1)

    def _touched(self, event: Any) -> None:
        if self._data is None:
            return
        share, width = (float(one) for one in event.args)
        self._choose(nearest(self._data, share, NARROW if width < 600.0 else self._size))


def _in_words(dot: Dot) -> str:
    return say(
        "sheet.note",
        note=note_name(dot.note),
        cents=texts.cents(dot.cents, 2),
        u=texts.plain(dot.u_cents, 2),
    )


def _telling(data: SheetData) -> tuple[Reached, ...]:
    """The reaches worth telling: up to the first that holds every note."""
    first, last = data.now[0].note, data.now[-1].note
    for place, one in enumerate(data.reaches):
        if (one.low, one.high) == (first, last):
            return data.reaches[: place + 1]
    return data.reaches


def _reach_words(one: Reached) -> str:
    tolerance = f"{one.tolerance_cents:g}"
    if one.low is None or one.high is None:
        return f"<span>{say('sheet.reach none', tolerance=tolerance)}</span>"
    words = say(
        "sheet.reach", tolerance=tolerance, low=note_name(one.low), high=note_name(one.high)
    )
    return f"<b>{words}</b>"


_DOT = '<path class="sheet-bar" d="M8 2V20"/><circle class="sheet-dot" cx="8" cy="11" r="5"/>'
_CROSS = '<path class="sheet-cross" d="M4 7l8 8m0 -8l-8 8"/>'
_BAND = '<rect class="sheet-band" x="0" y="4" width="26" height="14"/>'


def _legend(data: SheetData) -> str:
    """What the marks mean; only those that are there."""
    marks = [(_DOT, 16, say("sheet.now"))]
    if data.found:
        marks.append((_CROSS, 16, say("sheet.found")))
    if data.model and data.fitted:
        marks.append(('<path class="sheet-line" d="M0 11H26"/>', 26, say("sheet.model")))
    if data.foreseen:
        marks.append(
            ('<path class="sheet-line-foreseen" d="M0 11H26"/>', 26, say("sheet.foreseen"))
        )
    marks.append((_BAND, 26, say("sheet.band", tolerance=f"{data.tolerance_cents:g}")))
    return "".join(
        f'<span><svg width="{wide}" height="22" aria-hidden="true">{mark}</svg>{words}</span>'
        for mark, wide, words in marks
    )


def _about(data: SheetData, dot: Dot) -> str:
    """The figures of one note."""
    facts = [
        (say("sheet.off"), f"{texts.cents(dot.cents, 2)} {say('sheet.cents')}"),
        (say("sheet.sure"), f"± {texts.plain(dot.u_cents, 2)} {say('sheet.cents')}"),
        (say("sheet.beats"), texts.beats(dot.beat_hz())),
    ]
    if dot.readings:
        facts.append((say("sheet.readings"), str(dot.readings)))
    was = next((one for one in data.found if one.note == dot.note), None)
    if was is not None:
        facts.append((say("sheet.was"), f"{texts.cents(was.cents, 1)} {say('sheet.cents')}"))
    foreseen = dict(data.foreseen).get(dot.note)
    if foreseen is not None:
        facts.append((say("sheet.foreseen"), f"{texts.cents(foreseen, 1)} {say('sheet.cents')}"))
    rows = "".join(
        f"<div><dt>{_safe(name)}</dt><dd>{_safe(fact)}</dd></div>" for name, fact in facts
    )
    more = ""
    if dot.doubt:
        more += f"<p><b>{say('sheet.doubt')}.</b> {_safe(dot.doubt)}</p>"
    if dot.left_out:
        reasons = " ".join(_safe(why) for why in dict.fromkeys(dot.left_out))
        more += f"<p><b>{say('sheet.left out')} ({len(dot.left_out)}).</b> {reasons}</p>"
    return f"<dl>{rows}</dl>{more}"


def _safe(words: str) -> str:
    return words.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
