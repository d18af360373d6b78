"""Several practice benches as one: their oscillators hear the same note and share a clock."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from pitchwright.bench.practice import PracticeBench
from pitchwright.procedures.requests import (
    Ask,
    Chosen,
    NotePlayed,
    PlayNote,
    ReadingsTaken,
    TakeReadings,
    TrackPoint,
    TurnWatched,
    Wait,
    Waited,
    WatchTurn,
)

__all__ = ["PracticeBenches"]


class PracticeBenches:
    """Answers a procedure from the practice benches of several oscillators.

    Parameters
    ----------
    benches
        One for each oscillator, in the order asked for; the first one's clock counts.
    """

    def __init__(self, benches: Sequence[PracticeBench]) -> None:
        self.benches = tuple(benches)

    def now_s(self) -> float:
        """Return the clock in seconds."""
        return self.benches[0].now_s()

    def play(self, request: PlayNote) -> NotePlayed:
        """Set the note of each."""
        played = [bench.play(request) for bench in self.benches]
        return played[0]

    def listen(self, request: TakeReadings) -> ReadingsTaken:
        """Read each that is asked for."""
        taken = {
            heard.oscillator: heard
            for bench in self.benches
            for heard in bench.listen(_only(request, bench.oscillator.name)).heard
        }
        return ReadingsTaken(tuple(taken[name] for name in request.oscillators))

    def watch(self, request: WatchTurn, live: Callable[[TrackPoint], None]) -> TurnWatched:
        """Have a trimmer of the one that is asked for turned."""
        (bench,) = (one for one in self.benches if one.oscillator.name == request.oscillator)
        return bench.watch(request, live)

    def choose(self, request: Ask) -> Chosen:
        """Have the person choose."""
        return self.benches[0].choose(request)

    def pass_time(self, request: Wait) -> Waited:
        """Let time pass for all."""
        waited = [bench.pass_time(request) for bench in self.benches]
        return waited[0]


def _only(request: TakeReadings, name: str) -> TakeReadings:
    return TakeReadings(request.note, request.cv_v, (name,), request.settle_s, request.sentence)
