"""A guided trim over real sound: a hand turns the stand-in's trimmers, the tool says where to stop.

On the way the input is unplugged in mid-move, and the trim is stopped with Ctrl-C and gone on with.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from pitchwright.units import cents_between, note_to_hz, ratio_of_cents

pytestmark = pytest.mark.needs("pulseaudio", "pulseaudio-utils", "libportaudio2")

TRIM = ("trim", "Heron", "--low", "C2", "--high", "C5", "--tolerance", "1")


LEAVES_CENTS = 0.4


class Hand:
    """Does what the tool asks: brings the reading to the aim, and takes the hand away after.

    While it is near every note is sharper by ``LEAVES_CENTS``, as by warmth and capacitance.
    """

    def __init__(self, heron: Any) -> None:
        self.heron = heron
        self.idle = False
        self.near = False

    def comes(self, near: bool) -> None:
        if near is not self.near:
            self.near = near
            self.heron.tell(f"bump Heron {LEAVES_CENTS if near else -LEAVES_CENTS}")

    def __call__(self, what: dict[str, Any]) -> None:
        if what["kind"] == "ask" and what["question"] == "hand away":
            self.comes(False)
        if what["kind"] == "watch turn" and not self.idle:
            self.comes(True)
            aim_hz = what["tuned_hz"] * ratio_of_cents(what["aim_cents"])
            self.heron.tell(f'bring Heron "{what["trimmer"]}" {aim_hz}')
        elif what["kind"] == "turn watched":
            self.heron.tell("bring Heron")


def test_a_guided_trim_from_as_found_to_as_left(make_bench: Callable[..., Any]) -> None:
    bench, pulse = make_bench(heard_at="ear")
    ear = pulse.add_ear()
    heron = bench.stand_in("--voltage-in", "voltage_out")
    hand = Hand(heron)
    stopped = bench.tool(*TRIM)
    stopped.until(lambda what: what["kind"] == "watch turn", hand)
    pulse.pull_out_ear(ear)
    stopped.until_said("Connect it again")
    pulse.add_ear()
    stopped.until(lambda what: what["kind"] == "turn watched", hand)
    assert stopped.interrupt() == 130
    run = bench.tool(*TRIM)
    run.until(lambda what: what["kind"] == "closed", hand)
    assert run.wait() == 0, run.said()
    assert "Heron: in tune" in run.said()
    assert not hand.near, "the hand has gone before the verdict"
    truth = heron.f_hz(1.0, 2.0, 3.0, 4.0)
    for note, f_hz in zip((36, 48, 60, 72), truth, strict=True):
        assert abs(cents_between(f_hz, note_to_hz(note))) < 1.0
    assert run.events.read_text(encoding="utf-8").count('"survey closed"') == 1
