"""A source trimmed over real sound, through an oscillator whose own curve is known.

What turns is the oscillator's trimmer, in the source's stead: the tool hears no difference.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from pitchwright.units import cents_between, cv_of_note, ratio_of_cents

pytestmark = pytest.mark.needs("pulseaudio", "pulseaudio-utils", "libportaudio2")

OWN_CENTS = {60: 28.0, 72: 35.0}
"""How far the trusted oscillator is off by itself, it is said."""


def test_a_source_is_heard_and_turned_through_a_trusted_oscillator(
    make_bench: Callable[..., Any], tmp_path: Path
) -> None:
    bench, _ = make_bench()
    heron = bench.stand_in("--voltage-in", "voltage_out")
    known = tmp_path / "known.csv"
    known.write_text("\n".join(["note,cents", *(f"{n},{c}" for n, c in OWN_CENTS.items())]))
    tool = bench.tool(
        *("source", "Loft", "--by", "Heron", "--known", str(known)),
        *("--low", "C4", "--high", "C5"),
    )
    asked: dict[str, Any] = {}

    def own_cents(note: float) -> float:
        return OWN_CENTS[60] + (OWN_CENTS[72] - OWN_CENTS[60]) * (note - 60.0) / 12.0

    def turn(what: dict[str, Any]) -> None:
        if what["kind"] == "watch turn":
            asked.update(what)
            aim_hz = what["tuned_hz"] * ratio_of_cents(what["aim_cents"] + own_cents(what["note"]))
            heron.tell(f'bring Heron "{what["trimmer"]}" {aim_hz}')

    closed = tool.until(lambda what: what["kind"] == "survey closed", turn)
    assert closed["oscillator"] == "Loft"
    for point in closed["points"]:
        (truth,) = heron.f_hz(cv_of_note(point["note"]))
        as_source = point["f_hz"] * ratio_of_cents(own_cents(point["note"]))
        assert abs(cents_between(as_source, truth)) < 0.3
    turned = tool.until(lambda what: what["kind"] == "turn watched", turn)
    assert asked["oscillator"] == "Loft"
    assert asked["trimmer"] in ("fine base trimmer", "scale trimmer")
    aim_hz = asked["tuned_hz"] * ratio_of_cents(asked["aim_cents"])
    assert abs(cents_between(turned["after"]["f_hz"], aim_hz)) <= asked["window_cents"]
    assert tool.interrupt() == 130
