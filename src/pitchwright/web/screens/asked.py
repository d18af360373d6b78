"""What a procedure is begun with: oscillator, range, tolerance, as fields."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from pitchwright.units import note_name
from pitchwright.web.screens.pieces import Tag, choice, tag
from pitchwright.web.texts import say

__all__ = ["Asked", "Which"]

_LOWS = (12, 24, 36, 48)
_HIGHS = (60, 72, 84, 96, 108)
_TOLERANCES = ("0.5", "1", "2", "5")
_STEPS = ("3", "4", "6", "12")


class Asked:
    """Range and what goes with it."""

    def __init__(self, *, tolerance: bool = False, step: bool = False) -> None:
        self.low, self.high = 24.0, 84.0
        self.tolerance_cents, self.step = 1.0, 6.0
        choice(say("set.low"), _notes(_LOWS), "24", self._set_low, "low")
        choice(say("set.high"), _notes(_HIGHS), "84", self._set_high, "high")
        if tolerance:
            options = {one: f"± {one}" for one in _TOLERANCES}
            choice(say("set.tolerance"), options, "1", self._set_tolerance, "tolerance")
        if step:
            steps = {one: say("set.semitones", count=one) for one in _STEPS}
            choice(say("set.step"), steps, "6", self._set_step, "step")

    def _set_low(self, value: str) -> None:
        self.low = float(value)

    def _set_high(self, value: str) -> None:
        self.high = float(value)

    def _set_tolerance(self, value: str) -> None:
        self.tolerance_cents = float(value)

    def _set_step(self, value: str) -> None:
        self.step = float(value)


class Which:
    """Which oscillators (or sources): one of them, or any number."""

    def __init__(
        self, *, several: bool, legend: str = "", changed: Callable[[], None] = lambda: None
    ) -> None:
        self._several, self._changed = several, changed
        self._names: tuple[str, ...] = ()
        self.chosen: list[str] = []
        with tag("fieldset", "pw-which", "which") as self.box:
            Tag("legend", legend or say("set.oscillators" if several else "set.oscillator"))
            self._row = tag("div", "pw-keys pw-tight")

    def show(self, names: Sequence[str]) -> None:
        """Offer oscillators; the first one, or all, are chosen to begin with."""
        if tuple(names) == self._names:
            return
        self._names = tuple(names)
        self.chosen = list(names) if self._several else list(names[:1])
        self._row.clear()
        with self._row:
            for name in names:
                self._one(name)

    def _one(self, name: str) -> None:
        with tag("label", "pw-option"):
            box = tag("input", part=f"oscillator-{name}")
            box.props["type"] = "checkbox" if self._several else "radio"
            box.props["name"] = f"which-{self.box.id}"
            box.props["value"] = name
            if name in self.chosen:
                box.props["checked"] = True
            Tag("span", name)
        box.on(
            "change",
            lambda event: self._set(name, bool(event.args)),
            js_handler="e => emit(e.target.checked)",
        )

    def _set(self, name: str, on: bool) -> None:
        if not self._several:
            self.chosen = [name]
            self._changed()
            return
        kept = set(self.chosen) | {name} if on else set(self.chosen) - {name}
        self.chosen = [one for one in self._names if one in kept]


def _notes(notes: Sequence[int]) -> dict[str, str]:
    return {str(note): note_name(note) for note in notes}
