"""What is begun at a bench, and what is written down of it.

How a face uses it. It makes a `Job` (``jobs``: a procedure with its settings; those of a survey or
a trim hold their circumstances), has the sitting `begin` it, opens the bench, and has it carried
out. Each event goes to the logbook first and then to whoever else is told, in the thread that
carries it out; the terminal does all of it in one thread, the page begins in the thread of whoever
pressed and carries out in one of its own. To stop, ask the `Stop` that was handed over: the bench
looks at it wherever it waits, and what was stopped can be begun again with its earlier events, by
another process too. After a trim, `left` begins the survey that shows what it left; it belongs to
the run of the trim.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pitchwright.errors import InputError
from pitchwright.procedures.settings import TrimSettings
from pitchwright.sitting.jobs import Job, survey_job
from pitchwright.upkeep import Recorder

if TYPE_CHECKING:
    from pitchwright.bench.runner import Bench, Subscriber
    from pitchwright.bench.stop import Stop
    from pitchwright.procedures.events import Event
    from pitchwright.trim.trimmer import Trimmer

__all__ = ["Begun", "Sitting"]


@dataclass(frozen=True, slots=True)
class Begun:
    """A job that is begun, or gone on with.

    Attributes
    ----------
    job
        What is done.
    run
        The logbook's name for it; to go on with it, begin it with the same.
    record
        Writes each event down.
    earlier
        The events that it goes on from.
    """

    job: Job
    run: str
    record: Subscriber
    earlier: tuple[Event, ...] = ()

    @property
    def start_s(self) -> float:
        """Where the bench's clock goes on, seconds."""
        return self.earlier[-1].t_s if self.earlier else 0.0

    def carry_out(
        self, bench: Bench, told: Sequence[Subscriber] = (), stop: Stop | None = None
    ) -> Any:
        """Run it to its end; its result, and whatever `pitchwright.bench.runner.run` raises."""
        from pitchwright.bench.runner import run

        return run(
            self.job.make(),
            bench,
            (self.record, *told),
            name=self.job.name,
            settings=self.job.settings,
            earlier=self.earlier,
            stop=stop,
        )


class Sitting:
    """One person at one bench, and the logbook that it is written into.

    Parameters
    ----------
    written
        The open logbook.
    """

    def __init__(self, written: Recorder) -> None:
        self._written = written

    def begin(
        self,
        job: Job,
        *,
        earlier: Sequence[Event] = (),
        run: str = "",
        what: Mapping[str, str] | None = None,
        trimmers: Mapping[str, Sequence[Trimmer]] | None = None,
    ) -> Begun:
        """Begin a job, and describe its instruments in the logbook where they are not yet.

        Parameters
        ----------
        job
            What is to be done.
        earlier, run
            To go on with what was stopped: its events, and the logbook's name for it.
        what, trimmers
            What each oscillator is said to be, and its trimmers, by name; a trim knows its own.
        """
        settings = job.settings
        known = dict(trimmers or {})
        if isinstance(settings, TrimSettings):
            known.setdefault(settings.oscillator, settings.trimmers)
        for name in job.oscillators:
            self._written.instrument(
                name, what=(what or {}).get(name, ""), trimmers=known.get(name, ())
            )
        record = self._written.follow(job.oscillators, run=run)
        return Begun(job, record.run, record, tuple(earlier))

    def left(self, trimmed: Begun) -> Begun:
        """Begin the survey of what a trim left, at all notes that it was to reach.

        Raises
        ------
        InputError
            Where it was no trim.
        """
        settings = trimmed.job.settings
        if not isinstance(settings, TrimSettings):
            raise InputError("Nothing was trimmed that could be surveyed as left")
        job = survey_job(settings.as_left)
        record = self._written.follow(job.oscillators, of_run=trimmed.run)
        return Begun(job, record.run, record)
