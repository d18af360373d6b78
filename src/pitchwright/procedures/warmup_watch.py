"""The warm-up watch: one note held, or two in turn, a reading every so often, until it is warm.

Theory of operation. Each round waits until its moment, plays its note where two take turns, and
reads every oscillator at once. From time to time each one's history is explained anew
(``stability``), and the forecast handed on. The watch ends when every oscillator is ready, or known
never to settle; when the time set for it is over; or when the person has had enough. Its result is
the history, exactly as a file of readings would give it, so that all that is made of such a file
(charts, base and scale told apart, Allan deviation) is made of a watch too.

A doubted reading counts as none. A pitch that jumps and stays there was retuned, or touched: that
oscillator's watch begins anew, which is said, because a warm-up with a step in it cannot be told
from another one.
"""

from __future__ import annotations

import math
from collections.abc import Generator
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.procedures.outcomes import ForecastMade
from pitchwright.procedures.requests import (
    Answer,
    Heard,
    NotePlayed,
    PlayNote,
    ReadingsTaken,
    Report,
    Request,
    TakeReadings,
    Tell,
    Wait,
    Waited,
    expect,
)
from pitchwright.stability import (
    HORIZON_S,
    TOLERANCE_CENTS,
    Forecast,
    Readiness,
    forecast,
)
from pitchwright.stability.history import History, Trace
from pitchwright.units import (
    A4_HZ,
    MIDDLE_C,
    NOTE_AT_0_V,
    cents_between,
    cv_of_note,
    note_name,
    note_to_hz,
)

__all__ = ["SETTLED", "WarmupWatched", "WatchSettings", "forecast_made", "warmup_watch"]

_JUMP_CENTS, _JUMP_CENTS_PER_S = 30.0, 0.5
"""What no warm-up does from one reading to the next (it does up to 0.2 cent per second)."""
SETTLED = (Readiness.READY, Readiness.NEVER_SETTLES)
"""Where there is nothing more to wait for."""


@dataclass(frozen=True, slots=True)
class WatchSettings:
    """What to watch, how often, and for how long.

    Attributes
    ----------
    oscillators
        Their names, all heard at once.
    notes
        One MIDI note number, held throughout; or two that are played in turn, which tells base
        drift from scale drift.
    every_s
        Seconds from one reading to the next.
    longest_s
        When the watch ends in any case, in seconds from its start.
    until_ready
        Whether it ends as soon as every oscillator is ready, or known never to settle.
    forecast_every_s
        Seconds from one forecast to the next.
    tolerance_cents, horizon_s
        How far an oscillator may still go, and within which time, once it is called ready.
    note_at_0_v
        The note that 0 V plays.
    settle_s
        How long a reading may take to settle, seconds.
    a4_hz
        Pitch of A4.
    """

    oscillators: tuple[str, ...]
    notes: tuple[float, ...] = (MIDDLE_C,)
    every_s: float = 10.0
    longest_s: float = 4.0 * 3600.0
    until_ready: bool = True
    forecast_every_s: float = 60.0
    tolerance_cents: float = TOLERANCE_CENTS
    horizon_s: float = HORIZON_S
    note_at_0_v: float = NOTE_AT_0_V
    settle_s: float = 5.0
    a4_hz: float = A4_HZ

    def __post_init__(self) -> None:
        """Refuse what cannot be watched."""
        if not self.oscillators:
            raise InputError("No oscillator to watch", do="Name at least one")
        if len(set(self.notes)) != len(self.notes) or not 1 <= len(self.notes) <= 2:
            raise InputError(
                "A warm-up is watched at one note, or at two different ones in turn",
                do="Give such as C4, or C2 and C6",
            )
        if not 0.5 <= self.every_s <= 3600.0:
            raise InputError(
                f"A reading every {self.every_s:g} s cannot be",
                do="Choose between 0.5 and 3600 seconds",
            )
        if not 2.0 * self.every_s <= self.longest_s <= 7.0 * 86400.0:
            raise InputError(
                f"Watching for {self.longest_s / 60.0:g} minutes every {self.every_s:g} s cannot"
                " be",
                do="Give time for two readings at least, and a week at most",
            )
        if not self.tolerance_cents > 0.0 or not self.horizon_s > 0.0:
            raise InputError(
                "The tolerance and the time it has to hold must be more than zero",
                do="Give for example 1 cent and 30 minutes",
            )


@dataclass(frozen=True, slots=True, eq=False)
class WarmupWatched:
    """What a watch leaves.

    Attributes
    ----------
    history
        Every reading, as if read from a file.
    forecasts
        The last of each oscillator, at each of its notes.
    """

    history: History
    forecasts: tuple[ForecastMade, ...]


@dataclass(slots=True)
class _Readings:
    """What was heard so far: one row a round."""

    oscillators: tuple[str, ...]
    t_s: list[float] = field(default_factory=list)
    notes: list[float] = field(default_factory=list)
    temperature_c: list[float] = field(default_factory=list)
    f_hz: dict[str, list[float]] = field(default_factory=dict)

    def rows(self, note: float) -> NDArray[np.intp]:
        return np.flatnonzero(np.array(self.notes) == note)

    def cents(self, name: str, a4_hz: float) -> NDArray[np.float64]:
        wanted_hz = note_to_hz(np.array(self.notes), a4_hz)
        return np.asarray(cents_between(np.array(self.f_hz[name]), wanted_hz))

    def temperatures(self) -> NDArray[np.float64] | None:
        read_c = np.array(self.temperature_c)
        return read_c if np.isfinite(read_c).any() else None


def warmup_watch(settings: WatchSettings) -> Generator[Request, Answer, WarmupWatched]:
    """Take readings until everything is warm; hand on a forecast of each oscillator as it goes.

    Raises
    ------
    InputError
        Where no oscillator gave a reading.
    """
    kept = _Readings(settings.oscillators, f_hz={name: [] for name in settings.oscillators})
    playing = yield from _play(settings, settings.notes[0])
    silent: set[str] = set()
    start_s, due_s, forecast_due_s = playing, playing, playing + settings.forecast_every_s
    made: dict[tuple[str, float], ForecastMade] = {}
    note = settings.notes[0]
    while True:
        waited = expect((yield Wait(due_s, "Until the next reading.")), Waited)
        if waited.enough or (kept.t_s and waited.t_s - start_s > settings.longest_s):
            break
        if len(settings.notes) > 1 and kept.t_s:
            note = settings.notes[len(kept.t_s) % 2]
            yield from _play(settings, note)
        read = TakeReadings(
            note,
            cv_of_note(note, settings.note_at_0_v),
            settings.oscillators,
            settings.settle_s,
            f"Listening to {note_name(note)}.",
        )
        heard = expect((yield read), ReadingsTaken).heard
        yield from _keep(kept, note, heard, waited, silent)
        now_s = kept.t_s[-1]
        if now_s >= forecast_due_s:
            made = yield from _forecasts(settings, kept, start_s)
            forecast_due_s = now_s + settings.forecast_every_s
            if settings.until_ready and all(one.readiness in SETTLED for one in made.values()):
                break
        # A reading that took longer than the rounds are apart must not be made up for.
        due_s = max(due_s + settings.every_s, now_s)
    if not any(np.isfinite(readings).any() for readings in kept.f_hz.values()):
        raise InputError(
            "No oscillator gave a reading",
            do="Check that its sound arrives and that the note reaches it",
        )
    if forecast_due_s - kept.t_s[-1] < settings.forecast_every_s:
        made = yield from _forecasts(settings, kept, start_s)
    return WarmupWatched(_history(settings, kept), tuple(made.values()))


def _play(settings: WatchSettings, note: float) -> Generator[Request, Answer, float]:
    why = f"Play {note_name(note)}, and let it sound."
    played = yield PlayNote(note, cv_of_note(note, settings.note_at_0_v), why)
    return expect(played, NotePlayed).t_s


def _keep(
    kept: _Readings, note: float, heard: tuple[Heard, ...], waited: Waited, silent: set[str]
) -> Generator[Request, Answer, None]:
    """Add one round; say who fell silent, and whose watch begins anew."""
    if tuple(one.oscillator for one in heard) != kept.oscillators:
        raise InputError("Other oscillators were read than were asked for")
    t_s = heard[0].t_s
    kept.t_s.append(max(t_s, kept.t_s[-1]) if kept.t_s else t_s)
    kept.notes.append(note)
    kept.temperature_c.append(math.nan if waited.temperature_c is None else waited.temperature_c)
    for one in heard:
        name, readings = one.oscillator, kept.f_hz[one.oscillator]
        good = one.f_hz is not None and not one.doubts
        readings.append(one.f_hz if good and one.f_hz is not None else math.nan)
        if not good and name not in silent:
            silent.add(name)
            reason = one.doubts[0] if one.doubts else "there is no pitch"
            yield Tell("no reading", f"{name} gives no reading: {reason}. The watch goes on.")
        if good:
            silent.discard(name)
            yield from _weigh_jumps(name, kept.t_s, readings, kept.rows(note))


def _weigh_jumps(
    name: str, t_s: list[float], f_hz: list[float], rows: NDArray[np.intp]
) -> Generator[Request, Answer, None]:
    """Leave out one stray reading; begin anew where two agree after a jump, as two did before."""
    seen = [row for row in rows.tolist() if math.isfinite(f_hz[row])][-4:]
    if len(seen) < 4:
        return
    cents = [cents_between(f_hz[row], f_hz[seen[0]]) for row in seen]
    allowed = [
        _JUMP_CENTS + _JUMP_CENTS_PER_S * (t_s[later] - t_s[row]) for row, later in pairwise(seen)
    ]
    jumped = [abs(cents[k + 1] - cents[k]) > allowed[k] for k in range(3)]
    if jumped == [False, True, False]:
        f_hz[: seen[2]] = [math.nan] * seen[2]
        yield Tell(
            "begun anew",
            f"{name} jumped by more than a warm-up does: it was retuned or touched, so its watch"
            " begins anew.",
        )
    elif jumped[1:] == [True, True] and abs(cents[3] - cents[1]) < allowed[1]:
        f_hz[seen[2]] = math.nan
        yield Tell("left out", f"One reading of {name} was far from its neighbours: left out.")


def _forecasts(
    settings: WatchSettings, kept: _Readings, start_s: float
) -> Generator[Request, Answer, dict[tuple[str, float], ForecastMade]]:
    """Forecast each oscillator at each of its notes, and hand it on."""
    made = {}
    t_s = np.array(kept.t_s) - start_s
    temperature_c = kept.temperatures()
    for name in settings.oscillators:
        cents = kept.cents(name, settings.a4_hz)
        for note in settings.notes:
            rows = kept.rows(note)
            found = forecast(
                t_s[rows],
                cents[rows],
                None if temperature_c is None else temperature_c[rows],
                tolerance_cents=settings.tolerance_cents,
                horizon_s=settings.horizon_s,
            )
            made[name, note] = forecast_made(name, note, found)
            yield Report(made[name, note])
    return made


def forecast_made(name: str, note: float, found: Forecast) -> ForecastMade:
    """A forecast as it is handed on and written down."""
    return ForecastMade(
        oscillator=name,
        note=note,
        readiness=found.readiness,
        ready_in_s=_rounded(found.ready_in_s),
        ready_in_low_s=_rounded(found.ready_in_low_s),
        ready_in_high_s=_rounded(found.ready_in_high_s),
        sure=_rounded(found.sure),
        drift_cents=_known(found.drift_cents),
        wander_cents=_known(found.wander_cents),
        u_wander_cents=_known(found.u_wander_cents),
        cents_per_k=_known(found.cents_per_k),
        u_cents_per_k=_known(found.u_cents_per_k),
        tolerance_cents=found.tolerance_cents,
        horizon_s=found.horizon_s,
        watched_s=_rounded(found.watched_s),
        sentence=found.sentence,
        why=found.why,
    )


def _rounded(figure: float) -> float:
    # What is written down is compared when it is gone on from: the last bits may differ elsewhere.
    return figure if math.isinf(figure) else round(figure, 4)


def _known(figure: float) -> float | None:
    return None if math.isnan(figure) else _rounded(figure)


def _history(settings: WatchSettings, kept: _Readings) -> History:
    t_s = np.array(kept.t_s)
    return History(
        t_s=t_s - t_s[0],
        traces=tuple(
            Trace(name, kept.cents(name, settings.a4_hz), np.array(kept.f_hz[name]))
            for name in settings.oscillators
            if np.isfinite(kept.f_hz[name]).any()
        ),
        temperature_c=kept.temperatures(),
        note=np.array(kept.notes) if len(settings.notes) > 1 else None,
        remarks=tuple(
            f"{name} gave no reading."
            for name in settings.oscillators
            if not np.isfinite(kept.f_hz[name]).any()
        ),
    )
