"""What a trim is to come to, as fields: flat, its own middle C, or by a surveyed oscillator."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pitchwright.web.screens.pieces import Tag, choice, tag
from pitchwright.web.targets import Kind, Target
from pitchwright.web.texts import say

if TYPE_CHECKING:
    from pitchwright.web.scene import Scene

__all__ = ["Aimed"]

_BY_LEADER = (Kind.FOLLOW, Kind.BEATS, Kind.CENTS)
_AMOUNTS = {
    Kind.BEATS: ("0.2", "0.5", "1", "2", "4"),
    Kind.CENTS: ("-10", "-5", "-2", "2", "5", "10"),
}


class Aimed:
    """Fields for a target."""

    def __init__(self) -> None:
        self._kind, self._leader = Kind.FLAT, ""
        self._amount: dict[Kind, str] = {Kind.BEATS: "0.5", Kind.CENTS: "5"}
        self._leaders: tuple[str, ...] = ()
        with tag("div", "pw-fields"):
            self._kinds = tag("div", "pw-among")
            self._details = tag("div", "pw-among")
        self._why = Tag("p", "", "pw-soft pw-small", "target-why")
        self._offer_kinds()

    @property
    def target(self) -> Target:
        """What is wanted."""
        amount = float(self._amount.get(self._kind, 0.0))
        return Target(self._kind, self._leader if self._kind in _BY_LEADER else "", amount)

    def show(self, scene: Scene) -> None:
        """Offer to go by whatever was surveyed."""
        leaders = tuple(one.oscillator for one in scene.curves)
        if leaders != self._leaders:
            self._leaders = leaders
            if self._leader not in leaders:
                self._leader = leaders[0] if leaders else ""
            self._offer_kinds()

    def _offer_kinds(self) -> None:
        kinds = [Kind.FLAT, Kind.OWN, *(_BY_LEADER if self._leaders else ())]
        self._kinds.clear()
        with self._kinds:
            options = {kind.value: say(f"target.{kind.value}") for kind in kinds}
            choice(say("target"), options, self._kind.value, self._set_kind, "target")
        self._offer_details()

    def _offer_details(self) -> None:
        self._details.clear()
        with self._details:
            if self._kind in _BY_LEADER:
                names = {name: name for name in self._leaders}
                choice(say("target.leader"), names, self._leader, self._set_leader, "leader")
            if self._kind in _AMOUNTS:
                amounts = {
                    one: one.replace("-", "−") if one.startswith("-") else self._more(one)
                    for one in _AMOUNTS[self._kind]
                }
                label = say(f"target.{self._kind.value} amount")
                choice(label, amounts, self._amount[self._kind], self._set_amount, "amount")
        self._why.set_text(
            say(f"target.{self._kind.value} why") if self._leaders else say("target.none surveyed")
        )

    def _more(self, amount: str) -> str:
        return f"+{amount}" if self._kind is Kind.CENTS else amount

    def _set_kind(self, value: str) -> None:
        self._kind = Kind(value)
        self._offer_details()

    def _set_leader(self, value: str) -> None:
        self._leader = value

    def _set_amount(self, value: str) -> None:
        self._amount[self._kind] = value
