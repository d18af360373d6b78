"""What need not be said, but can be: A4, conditions, a wider range, trimmers to be left alone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from pitchwright.units import A4_HZ, note_name
from pitchwright.web.screens.pieces import Tag, choice, entry, tag
from pitchwright.web.texts import say

if TYPE_CHECKING:
    from pitchwright.procedures.circumstances import Conditions

__all__ = ["Besides"]

_WIDER_LOWS = (0, 12, 24, 36)
_WIDER_HIGHS = (84, 96, 108, 120)
_AS_ABOVE = ""


class Besides:
    """Fields behind a heading that opens them; `trim` adds what only a trim can use."""

    def __init__(self, *, trim: bool = False) -> None:
        self._said: dict[str, str] = {}
        self._wider: dict[str, str] = {}
        self._trimmers: tuple[str, ...] = ()
        self.leave: list[str] = []
        with tag("details", "pw-more", "besides"):
            Tag("summary", say("set.besides"))
            with tag("div", "pw-fields"):
                for part, number in (
                    ("a4", True),
                    ("temperature", True),
                    ("minutes on", True),
                    ("source", False),
                    ("route", False),
                ):
                    entry(say(f"set.{part}"), self._keep(part), part, number=number)
            Tag("p", say("set.besides why"), "pw-soft pw-small")
            if trim:
                self._lay_out_wider()
                with tag("fieldset", "pw-which", "leave"):
                    Tag("legend", say("set.leave"))
                    self._leave = tag("div", "pw-keys pw-tight")

    def _lay_out_wider(self) -> None:
        with tag("div", "pw-fields"):
            for part, notes in (("low", _WIDER_LOWS), ("high", _WIDER_HIGHS)):
                options = {_AS_ABOVE: say("set.as above")}
                options |= {str(note): note_name(note) for note in notes}
                label = say(f"set.wider {part}")
                choice(label, options, _AS_ABOVE, self._keep_wider(part), f"wider-{part}")
        Tag("p", say("set.wider why"), "pw-soft pw-small")

    @property
    def a4_hz(self) -> float:
        """Pitch of A4."""
        given = self._number("a4")
        return A4_HZ if given is None else given

    @property
    def conditions(self) -> Conditions:
        """What a person says of the conditions; InputError where that cannot be."""
        from pitchwright.procedures.circumstances import Conditions

        return Conditions(
            self._number("temperature"),
            self._number("minutes on"),
            self._said.get("source", ""),
            self._said.get("route", ""),
        ).checked()

    def wider(self, low: float, high: float) -> tuple[float, float] | None:
        """A wider range to try after one from `low` to `high`; None where none is wanted."""
        first = float(self._wider.get("low") or low)
        last = float(self._wider.get("high") or high)
        return None if (first, last) == (low, high) else (first, last)

    def show(self, trimmers: Sequence[str]) -> None:
        """Offer to leave these trimmers alone."""
        if tuple(trimmers) == self._trimmers:
            return
        self._trimmers, self.leave = tuple(trimmers), []
        self._leave.clear()
        with self._leave:
            for name in trimmers:
                self._offer(name)

    def _offer(self, name: str) -> None:
        with tag("label", "pw-option"):
            box = tag("input", part=f"leave-{name}")
            box.props["type"] = "checkbox"
            Tag("span", name)
        box.on(
            "change",
            lambda event: self._set_leave(name, bool(event.args)),
            js_handler="e => emit(e.target.checked)",
        )

    def _set_leave(self, name: str, on: bool) -> None:
        kept = set(self.leave) | {name} if on else set(self.leave) - {name}
        self.leave = [one for one in self._trimmers if one in kept]

    def _keep(self, part: str) -> Callable[[str], Any]:
        return lambda value: self._said.update({part: value.strip()[:200]})

    def _keep_wider(self, part: str) -> Callable[[str], Any]:
        return lambda value: self._wider.update({part: value})

    def _number(self, part: str) -> float | None:
        written = self._said.get(part, "").replace(",", ".").replace("−", "-")
        if not written:
            return None
        try:
            return float(written)
        except ValueError:
            from pitchwright.web.refusing import refused

            raise refused("no number", what=say(f"set.{part}"), written=written[:40]) from None
