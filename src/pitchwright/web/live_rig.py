"""The live bench of the bench file, as the page's bench: opened for each procedure, then let go."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from pitchwright.bench.live.bench_file import BenchFile
from pitchwright.bench.live.connecting import connect
from pitchwright.bench.live.live_bench import LiveBench
from pitchwright.procedures.circumstances import Conditions
from pitchwright.procedures.events import Event
from pitchwright.trim.trimmer import Trimmer
from pitchwright.units import cv_of_note
from pitchwright.web.people import People
from pitchwright.web.scene import Connected, Listed
from pitchwright.web.texts import say

if TYPE_CHECKING:
    from pitchwright.bench.runner import Bench
    from pitchwright.sitting.jobs import Job

__all__ = ["LiveRig"]


class LiveRig:
    """What a bench file describes.

    Parameters
    ----------
    described
        The bench file.
    """

    def __init__(self, described: BenchFile) -> None:
        self._described = described

    @property
    def connected(self) -> Connected:
        """What it is, for the scene."""
        described = self._described
        said = [
            say("connected.live", channels=len(described.oscillator)),
            say(f"connected.notes by {described.notes}"),
            *([say("connected.invented")] if described.invented else []),
        ]
        return Connected(
            kind="live",
            sentence=" ".join(said),
            oscillators=tuple(
                Listed(name, tuple(trimmer.name for trimmer in one.trimmer))
                for name, one in described.oscillator.items()
            ),
            sources=(described.source,) if described.source else (),
            turnable=False,
            drives_outputs=described.notes != "person",
        )

    @property
    def invented(self) -> bool:
        """Whether its instrument is not a real one: then another logbook is written into."""
        return self._described.invented

    @property
    def note_at_0_v(self) -> float:
        """The note that 0 V plays."""
        return self._described.note_at_0_v

    @property
    def clock_ppm(self) -> float:
        """Standard uncertainty of the clock behind the pitches, ppm; 0 where it cancels."""
        return self._described.u_clock_ppm

    def what(self, name: str) -> str:
        """What an oscillator is said to be; empty where nobody said."""
        return self._described.oscillator[name].what

    def conditions(self, names: Iterable[str]) -> Conditions:
        """What oscillators are heard under, as the bench file says."""
        return self._described.conditions(names)

    def trimmers(self, name: str) -> tuple[Trimmer, ...]:
        """The trimmers of an oscillator; InputError where there is none of that name."""
        return self._described.trimmers(name)

    def bench(self, job: Job, people: People, start_s: float) -> Bench:
        """Open the devices; called in the thread that the procedure runs in."""
        opened = connect(
            self._described,
            only=job.oscillators,
            say=people.say,
            trouble=lambda kind: people.sound(kind.value if kind else ""),
            choose_key=people.choose,
            start_s=start_s,
            enough=lambda: people.enough,
            stop=people.stopping,
        )
        opened.expect([(note, cv_of_note(note, self.note_at_0_v)) for note in job.expected])
        people.hears(leave=opened.advance)
        return opened

    def keep(self, bench: Bench) -> None:
        """Voltage to 0, notes off, devices given back."""
        if isinstance(bench, LiveBench):
            bench.close()

    def take_up(self, events: Iterable[Event]) -> None:
        """A real instrument stands as it was left."""
