"""A trim stopped at every request, gone on with anew each time, ends as one that was not."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass, field

import numpy as np
import pytest

from pitchwright.bench.practice import PracticeBench, trimmers_of
from pitchwright.bench.practice_rig import RigBench
from pitchwright.bench.runner import run
from pitchwright.bench.stop import Stop, StopAsked
from pitchwright.practice import theatre_rig
from pitchwright.practice.hands import Hand
from pitchwright.practice.oscillator import Oscillator
from pitchwright.practice.rig import Rig
from pitchwright.practice.room import Room
from pitchwright.procedures import TrimSettings, guided_trim
from pitchwright.procedures.events import Event
from pitchwright.procedures.guided_trim import TrimResult
from pitchwright.trim.verdict import Standing

ANSWERS = {"note played", "readings taken", "turn watched", "waited", "chosen"}
NOTES = np.arange(24.0, 85.0, 6.0)


@dataclass
class OnPractice:
    """One oscillator; it stays as it was turned while benches come and go."""

    oscillator: Oscillator
    opened: int = field(default=0)

    def bench(self, t_s: float, stop: Stop) -> PracticeBench:
        self.opened += 1
        rng = np.random.default_rng(self.opened)
        loft = theatre_rig().source("Loft")
        return PracticeBench(
            self.oscillator, loft, Hand(rng), rng, t_s=t_s, pace=lambda _: stop.look()
        )

    def left(self, bench: object) -> None:
        assert isinstance(bench, PracticeBench)
        self.oscillator = bench.oscillator


@dataclass
class OnWholeRig:
    """The whole rig, likewise."""

    rig: Rig
    name: str
    opened: int = field(default=0)

    @property
    def oscillator(self) -> Oscillator:
        (voice,) = self.rig.only(self.name).voices
        return voice.oscillator

    def bench(self, t_s: float, stop: Stop) -> RigBench:
        self.opened += 1
        return RigBench(
            self.rig,
            room=Room(swing_k=0.0),
            seed=self.opened,
            t_s=t_s,
            pace=lambda _: stop.look(),
        )

    def left(self, bench: object) -> None:
        assert isinstance(bench, RigBench)
        self.rig = bench.rig


def there(kind: str, name: str) -> OnPractice | OnWholeRig:
    rig = theatre_rig()
    (voice,) = rig.only(name).voices
    return OnPractice(voice.oscillator) if kind == "practice" else OnWholeRig(rig, name)


def worst_cents(oscillator: Oscillator, t_s: float) -> float:
    """What the oscillator is really off by, against equal temperament at A4 = 440 Hz."""
    loft = theatre_rig().source("Loft")
    f_hz = oscillator.f_hz(np.array([loft.cv_v(note) for note in NOTES]), t_s)
    return float(np.abs(1200.0 * np.log2(f_hz / 440.0) - 100.0 * (NOTES - 69.0)).max())


@pytest.mark.parametrize("name", ["Heron", "Bittern"])
@pytest.mark.parametrize("kind", ["practice", "whole rig"])
def test_stopped_at_every_request_it_comes_to_the_same_end(kind: str, name: str) -> None:
    instrument = there(kind, name)
    settings = TrimSettings(name, trimmers_of(instrument.oscillator))
    events: list[Event] = []
    result: TrimResult | None = None
    stops = 0
    while result is None and stops < 300:
        stop = Stop()
        fresh: list[Event] = []

        def take_in(event: Event, stop: Stop = stop, fresh: list[Event] = fresh) -> None:
            if event.kind == "turning":
                return
            fresh.append(event)
            if event.kind in ANSWERS:
                stop.ask()

        bench = instrument.bench(events[-1].t_s if events else 0.0, stop)
        with contextlib.suppress(StopAsked):
            result = run(
                guided_trim(settings),
                bench,
                [take_in],
                name="guided trim",
                settings=settings,
                earlier=list(events),
                stop=stop,
            )
        stops += 1
        instrument.left(bench)
        events.extend(fresh)
    assert result is not None
    assert stops > 20
    assert result.verdict.standing is Standing.IN_TUNE
    assert worst_cents(instrument.oscillator, events[-1].t_s) <= settings.tolerance_cents
    # The whole story is one: replayed from its start without a bench's help, it ends alike.
    again = run(
        guided_trim(settings),
        bench,
        name="guided trim",
        settings=settings,
        earlier=events,
    )
    assert again == result
