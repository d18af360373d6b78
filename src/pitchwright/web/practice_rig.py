"""The practice rig as the page's bench: its oscillators stay as they were left.

Its clock runs on from one procedure to the next, and its trimmers keep where they were turned to.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pitchwright.bench.practice import PracticeBench, Turner, trimmers_of
from pitchwright.errors import InputError
from pitchwright.practice.hands import Hand
from pitchwright.practice.oscillator import Oscillator
from pitchwright.practice.scenario import theatre_rig
from pitchwright.trim.trimmer import Trimmer
from pitchwright.web.people import People
from pitchwright.web.practice_benches import PracticeBenches
from pitchwright.web.scene import Connected, Listed
from pitchwright.web.sliders import Sliders

__all__ = ["PracticeRig"]

_LONGEST_WAIT_S = 1.5
"""Nobody waits in earnest for a simulated person to walk to the rack."""


class PracticeRig:
    """The invented rig of the demo scenario.

    Parameters
    ----------
    hand
        Whether a simulated hand turns, for show; else the sliders on the page.
    seed
        Of reading noise and hand.
    speed
        How many times faster than a clock it runs.
    """

    def __init__(self, *, hand: bool = False, seed: int = 1, speed: float = 1.0) -> None:
        rig = theatre_rig()
        self._rng = np.random.default_rng(seed)
        self._oscillators = {voice.oscillator.name: voice.oscillator for voice in rig.voices}
        self._source = rig.source("Loft")
        self._hand, self._speed = hand, speed
        self._t_s = 0.0

    @property
    def connected(self) -> Connected:
        """What it is, for the scene."""
        return Connected(
            kind="practice",
            sentence="The practice rig: an invented instrument, simulated. Nothing is connected.",
            oscillators=tuple(
                Listed(name, tuple(trimmer.name for trimmer in trimmers_of(oscillator)))
                for name, oscillator in self._oscillators.items()
            ),
            turnable=not self._hand,
        )

    def trimmers(self, name: str) -> tuple[Trimmer, ...]:
        """The trimmers of an oscillator; InputError where there is none of that name."""
        return trimmers_of(self._oscillator(name))

    def bench(self, names: Sequence[str], people: People) -> PracticeBenches:
        """A bench for one procedure about these oscillators."""
        turner: Turner = Hand(self._rng)
        if not self._hand:
            sliders = Sliders(lambda: people.window_cents, people.resting)
            people.hears(move=sliders.move, leave=sliders.leave)
            turner = sliders

        def pace(seconds: float) -> None:
            people.wait(min(seconds, _LONGEST_WAIT_S) / self._speed)

        benches = [
            PracticeBench(
                oscillator=self._oscillator(name),
                source=self._source,
                turner=turner,
                rng=self._rng,
                t_s=self._t_s,
                choose_key=people.choose,
                pace=pace if place == 0 else None,
            )
            for place, name in enumerate(names)
        ]
        return PracticeBenches(benches)

    def keep(self, bench: PracticeBenches) -> None:
        """Keep the oscillators as a procedure left them, and what time it is."""
        for one in bench.benches:
            self._oscillators[one.oscillator.name] = one.oscillator
        self._t_s = max(self._t_s, bench.now_s())

    def _oscillator(self, name: str) -> Oscillator:
        try:
            return self._oscillators[name]
        except KeyError:
            raise InputError(
                f"There is no oscillator called {name}",
                do=f"There are: {', '.join(self._oscillators)}",
            ) from None
