"""The live bench: answers a procedure from real sound, with notes played by the tool or a person.

It is the same to a procedure as a practice bench or a recording. What a device does to it (samples
lost, a cable pulled, a note that did not come) it deals with itself where it can: what is lost is
read again, what is gone is waited for, and what cannot be helped is said in a sentence, the voltage
at 0 and the notes off.
"""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from types import TracebackType
from typing import Self

import numpy as np

from pitchwright.bench.live.by_person import ByPerson
from pitchwright.bench.live.by_tool import ByTool
from pitchwright.bench.live.expecting import Expecting
from pitchwright.bench.live.input_check import FindingKind, check_inputs
from pitchwright.bench.live.notes import NotePlayer
from pitchwright.bench.live.playing import NotFollowedError, Playing, SoundLostError, Window
from pitchwright.bench.live.reference import Reference
from pitchwright.bench.live.resting import Resting
from pitchwright.bench.live.sound_in import SoundSource
from pitchwright.bench.live.sound_memory import Samples, SoundMemory
from pitchwright.bench.live.sound_trouble import SoundTrouble, TroubleWatch
from pitchwright.bench.live.voltage_in import VoltageIn
from pitchwright.bench.stop import Stop
from pitchwright.errors import InputError
from pitchwright.pitch import Reading, read
from pitchwright.pitch.live import LiveTracker
from pitchwright.pitch.reading import FlagKind
from pitchwright.procedures.requests import (
    Ask,
    Chosen,
    Ended,
    Heard,
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
from pitchwright.units import cents_between, note_name, note_to_hz

__all__ = ["LiveBench"]

_READING_S, _LONGEST_READING_S = 0.5, 2.0
_CHECK_S = 1.0
_PERIODS = 16.0
_WANTED_U_CENTS = 0.04
_MOST_ATTEMPTS, _MOST_UNCLEAR = 6, 2
_AUDIBLE_DBFS = -60.0
_CALM_S = 1.0
# A waveform that changes and partials that disagree are in the reading's uncertainty already.
_HARMLESS = frozenset(
    {
        FlagKind.MAINS_NEARBY,
        FlagKind.CLIPPED,
        FlagKind.WAVEFORM_CHANGES,
        FlagKind.PARTIALS_DISAGREE,
    }
)


class LiveBench:
    """What is connected now (a context manager).

    Parameters
    ----------
    source
        Where sound comes from; closed with the bench.
    channels
        Column of each oscillator in the source.
    player
        What plays the notes; None where a person does.
    voltage_in
        Measures the control voltage while an oscillator is read.
    reference
        A channel whose pitch the others are compared with.
    say
        Is given sentences for the person that belong to no request.
    trouble
        Is given what is wrong with the sound while a trimmer is turned; None once nothing is.
    choose_key
        How a question is answered; its default where None.
    a4_hz
        Pitch of A4, by which notes are recognised.
    start_s
        Where the clock goes on, for a procedure that was interrupted.
    patience_s
        How long a device that is gone is waited for.
    outside_s
        How long a turned trimmer must rest outside its window before the turn counts as ended.
    enough
        Whether the person has had enough of a watch, also where that was said between two waits.
    stop
        The wish to stop, looked at wherever it waits.
    """

    def __init__(
        self,
        source: SoundSource,
        channels: Mapping[str, int],
        player: NotePlayer | None,
        *,
        voltage_in: VoltageIn | None = None,
        reference: Reference | None = None,
        say: Callable[[str], None] = lambda _: None,
        trouble: Callable[[SoundTrouble | None], None] = lambda _: None,
        choose_key: Callable[[Ask], str] | None = None,
        a4_hz: float = 440.0,
        start_s: float = 0.0,
        patience_s: float = 60.0,
        outside_s: float = 4.0,
        enough: Callable[[], bool] = lambda: False,
        stop: Stop | None = None,
    ) -> None:
        self._source = source
        self._enough, self._stop = enough, stop or Stop()
        self._memory = SoundMemory(source, stop=self._stop)
        self._channels = dict(channels)
        self._voltage_in, self._reference = voltage_in, reference
        self._say, self._trouble, self._choose_key = say, trouble, choose_key
        self._patience_s, self._outside_s = patience_s, outside_s
        self._began_s = time.monotonic() - start_s
        self._expecting = {name: Expecting(a4_hz) for name in channels}
        self._stretch = 1.0
        self._checked = False
        self._advanced = threading.Event()
        self._read_note: float | None = None
        self._playing: float | None = None
        self._how: Playing
        if player is None:
            self._how = ByPerson(self._memory, self._channels, say, a4_hz, self._advanced)
        else:
            voltage = None
            if voltage_in is not None:
                voltage = (voltage_in.memory or self._memory, voltage_in.column)
            self._how = ByTool(
                player, self._memory, self._channels, self._length_s, voltage, self._stop
            )

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    # ------------------------------------------------------------------ the bench

    def now_s(self) -> float:
        """Return the clock in seconds."""
        return time.monotonic() - self._began_s

    def expect(self, notes: Sequence[tuple[float, float]]) -> None:
        """Say which notes will be asked for, in order, with their voltages: saves waiting."""
        self._how.expect(notes)

    def play(self, request: PlayNote) -> NotePlayed:
        """Have the note sound; with a voltage input, measure its voltage."""
        self._read_note, self._playing = None, request.note
        self._advanced.clear()  # said of what went before
        try:
            self._whatever_happens(request.note, request.cv_v, self._how.play)
        except NotFollowedError as fault:
            self._until_it_follows(request.note, request.cv_v, fault)
        cv_v = None
        if self._voltage_in is not None:
            cv_v = self._voltage(request.note, request.cv_v)
        return NotePlayed(self.now_s(), cv_v)

    def listen(self, request: TakeReadings) -> ReadingsTaken:
        """Read the note that sounds, all oscillators at once."""
        for name in request.oscillators:
            self._column(name)
        if self._playing != request.note:
            # A procedure that goes on after an interruption: the note sounded then, not now.
            self._playing = request.note
            self._whatever_happens(request.note, request.cv_v, self._how.play)
        elif self._read_note == request.note:
            self._whatever_happens(request.note, request.cv_v, self._how.again)
        self._read_note = request.note
        stayed = unclear = 0
        for _ in range(_MOST_ATTEMPTS):
            try:
                readings = self._readings(request)
            except SoundLostError:
                self._recover(request.note, request.cv_v)
                continue
            if readings is None:
                self._say(
                    f"Some of the sound of {note_name(request.note)} was lost: it is read again."
                )
                self._whatever_happens(request.note, request.cv_v, self._how.again)
                continue
            heard, all_wrong = self._judged(request, readings)
            if stayed == 0 and all_wrong and self._how.learns_delay:
                # Before a note is blamed: do they come at another time than was learned?
                stayed += 1
                self._until_it_follows(request.note, request.cv_v)
                continue
            if unclear < _MOST_UNCLEAR and self._unclear(readings):
                # A computer that was too busy leaves holes in the sound that nothing else tells.
                unclear += 1
                self._say(f"The sound of {note_name(request.note)} was not whole: read again.")
                self._whatever_happens(request.note, request.cv_v, self._how.again)
                continue
            return ReadingsTaken(heard)
        raise InputError(
            f"The sound of {note_name(request.note)} was lost {_MOST_ATTEMPTS} times",
            "sound input",
            "Close other programs, or let the sound system buffer more (latency_s in the bench"
            " file)",
        )

    def watch(self, request: WatchTurn, live: Callable[[TrackPoint], None]) -> TurnWatched:
        """Follow the reading while a person turns, until it rests."""
        column = self._column(request.oscillator)
        self._advanced.clear()
        track: list[TrackPoint] = []
        wrong = TroubleWatch(self._trouble)
        try:
            while True:
                try:
                    self._how.hold(request.note, request.cv_v)
                    self._playing = request.note
                    return self._watched(request, column, track, live, wrong)
                except SoundLostError:
                    self._recover(request.note, request.cv_v)
        finally:
            wrong.over()

    def choose(self, request: Ask) -> Chosen:
        """Have the person choose."""
        return Chosen(self._choose_key(request) if self._choose_key else request.default)

    def pass_time(self, request: Wait) -> Waited:
        """Let time pass while the note sounds on; `advance` ends the watch, also while it reads."""
        while not self._done_watching() and self.now_s() < request.until_s:
            # What comes meanwhile is taken in, so that the next reading is of then and not of now.
            self._memory.pump(min(0.1, max(request.until_s - self.now_s(), 0.0)))
        self._stop.look()
        enough = self._done_watching()
        self._advanced.clear()
        return Waited(self.now_s(), enough=enough)

    def advance(self) -> None:
        """The person says that this turn or watch is over, or this the note; from any thread."""
        self._advanced.set()

    def close(self) -> None:
        """Voltage to 0, notes off, devices given back; may be called more than once."""
        try:
            self._how.close()
        finally:
            self._source.close()
            if self._voltage_in is not None:
                self._voltage_in.close()

    def _done_watching(self) -> bool:
        return self._advanced.is_set() or self._enough()

    # ------------------------------------------------------------------ reading

    def _length_s(self, note: float) -> float:
        """How much sound a reading of a note takes; the first is checked besides."""
        least_s = _READING_S if self._checked else _CHECK_S
        periods_s = _PERIODS / note_to_hz(note)
        return min(max(least_s, periods_s) * self._stretch, _LONGEST_READING_S)

    def _readings(self, request: TakeReadings) -> dict[str, tuple[Reading, float]] | None:
        """One reading and its time for each oscillator; None where sound was lost."""
        found: dict[str, tuple[Reading, float]] = {}
        sounds: dict[str, Samples] = {}
        kept = self._how.kept
        if kept is not None:
            self._check({name: kept.sound[self._column(name)] for name in request.oscillators})
            return {
                name: (
                    read(kept.sound[self._column(name)], self._memory.rate_hz),
                    kept.middle_s - self._began_s,
                )
                for name in request.oscillators
            }
        window = self._how.window()
        length_s = self._length_s(request.note)
        to_s = window.from_s + length_s
        if not self._memory.wait_until(to_s, to_s - time.monotonic() + 5.0):
            raise SoundLostError
        to_s = min(to_s, self._how.window().until_s)
        if to_s - window.from_s < 0.5 * length_s or self._how.disturbed():
            return None
        for name in request.oscillators:
            sound = self._memory.span(self._column(name), window.from_s, to_s)
            if sound is None:
                return None
            middle_s = 0.5 * (window.from_s + to_s) - self._began_s
            sounds[name] = sound
            found[name] = (read(sound, self._memory.rate_hz), middle_s)
        self._check(sounds)
        return self._against_reference(found, window.from_s, to_s)

    def _check(self, sounds: Mapping[str, Samples]) -> None:
        """Say once, of the first note, what is wrong with any input and what to do."""
        if self._checked:
            return
        self._checked = True
        together = np.stack(list(sounds.values()), axis=1)
        for one in check_inputs(together, self._memory.rate_hz, list(sounds)):
            for finding in one.findings:
                if finding.kind is FindingKind.SAME_SOUND:
                    continue  # for a second, two that play one note in tune are hard to tell apart
                self._say(f"{one.name}: {finding.sentence}. {finding.do}.")

    def _against_reference(
        self, found: dict[str, tuple[Reading, float]], from_s: float, to_s: float
    ) -> dict[str, tuple[Reading, float]] | None:
        if self._reference is None:
            return found
        sound = self._memory.span(self._reference.column, from_s, to_s)
        if sound is None:
            return None
        heard = read(sound, self._memory.rate_hz)
        return {
            name: (self._reference.against(reading, heard), t_s)
            for name, (reading, t_s) in found.items()
        }

    def _judged(
        self, request: TakeReadings, readings: Mapping[str, tuple[Reading, float]]
    ) -> tuple[tuple[Heard, ...], bool]:
        """What was heard with its doubts, and whether none of it can be the note asked for."""
        heard, wrong_notes = [], 0
        for name, (reading, t_s) in readings.items():
            doubts = [flag.reason for flag in reading.flags if flag.kind not in _HARMLESS]
            if reading.has(FlagKind.CLIPPED):
                self._say(f"{name} is clipped at {note_name(request.note)}: turn its level down.")
            if reading.f_hz is None:
                heard.append(Heard(name, t_s, None, 0.0, tuple(doubts)))
                continue
            expecting = self._expecting[name]
            wrong = expecting.doubt(request.note, reading.f_hz)
            if wrong is not None and not self._how.sure:
                wrong_notes += 1
                doubts = [wrong.sentence]
            elif reading.has(FlagKind.UNSTEADY):
                self._how.unsettled()
            elif expecting.off_cents(request.note) is not None:
                # What is where it is expected to be is not an octave off.
                doubts = [
                    flag.reason
                    for flag in reading.flags
                    if flag.kind not in _HARMLESS | {FlagKind.OCTAVE_AMBIGUOUS}
                ]
            if reading.u_cents > _WANTED_U_CENTS:
                self._stretch = min(1.5 * self._stretch, 4.0)
            expecting.heard(request.note, reading.f_hz, good=not doubts)
            heard.append(Heard(name, t_s, reading.f_hz, reading.u_cents, tuple(doubts)))
        return tuple(heard), wrong_notes == len(heard)

    def _unclear(self, readings: Mapping[str, tuple[Reading, float]]) -> bool:
        """Whether something sounds that gives no steady pitch."""
        return any(
            reading.level_dbfs > _AUDIBLE_DBFS
            and (reading.f_hz is None or reading.has(FlagKind.UNSTEADY))
            for reading, _ in readings.values()
        )

    def _voltage(self, note: float, cv_v: float) -> float | None:
        """The note's voltage as it comes in; None where some was lost, or nobody sends one."""
        assert self._voltage_in is not None
        for _ in range(_MOST_ATTEMPTS):
            window = self._how.voltage_window()
            if window is None:
                return None
            memory = self._voltage_in.memory or self._memory
            to_s = window.from_s + min(0.3, self._length_s(note))
            with contextlib.suppress(SoundLostError):
                if not memory.wait_until(to_s, to_s - time.monotonic() + 5.0):
                    raise SoundLostError
                return self._voltage_in.volts(
                    self._memory, Window(window.from_s, min(to_s, window.until_s))
                )
            self._recover(note, cv_v)
        return None

    # ------------------------------------------------------------------ watching

    def _watched(
        self,
        request: WatchTurn,
        column: int,
        track: list[TrackPoint],
        live: Callable[[TrackPoint], None],
        wrong: TroubleWatch,
    ) -> TurnWatched:
        resting = Resting(request, outside_s=self._outside_s)
        tracker = LiveTracker(self._memory.rate_hz)
        from_s = self._how.window().from_s
        offset_s: float | None = None
        told_limit = False
        unclear = 0
        quiet_s = time.monotonic()
        while True:
            ended: Ended | None = None
            for block in self._memory.pump():
                quiet_s = time.monotonic()
                if block.gap:
                    tracker.gap(block.missing)
                    wrong.lost(self.now_s())
                if block.arrived_s < from_s:
                    continue
                if offset_s is None:
                    first_s = block.arrived_s - len(block.samples) / self._memory.rate_hz
                    offset_s = first_s - tracker.now_s
                for reading in tracker.push(block.samples[:, column]):
                    wrong.saw(self.now_s(), reading)
                    if reading.f_hz is None or ended is not None:
                        continue
                    t_s = reading.t_s + offset_s - self._began_s
                    cents = cents_between(reading.f_hz, request.tuned_hz)
                    point = TrackPoint(t_s, cents)
                    track.append(point)
                    live(point)
                    ended = resting.saw(t_s, cents, reading.u_cents)
            if not self._memory.flowing or time.monotonic() - quiet_s > 5.0:
                raise SoundLostError
            if resting.past_limit and not told_limit:
                told_limit = True
                self._say("Stop turning: that is past the limit.")
            if ended is None and self._advanced.is_set() and track:
                self._stop.look()  # a stop wakes a watch too, and is no word that it is there
                ended = resting.on_word()
            if ended is not None:
                rest_s = resting.rest_began_s() + self._began_s
                patient = unclear < _MOST_UNCLEAR
                after = self._after(request, column, max(rest_s, from_s), patient=patient)
                if after is not None:
                    return TurnWatched(ended, after, tuple(track))
                unclear += 1

    def _after(
        self, request: WatchTurn, column: int, rest_s: float, *, patient: bool
    ) -> Heard | None:
        """A careful reading of where it came to rest; None where sound was lost, or was not whole.

        Once patience is over, sound that gives no pitch is taken for an oscillator that stopped.
        """
        length_s = self._length_s(request.note)
        to_s = max(rest_s + length_s, self._memory.newest_s)
        if not self._memory.wait_until(to_s, to_s - time.monotonic() + 5.0):
            raise SoundLostError
        from_s = max(rest_s, to_s - 2.0 * length_s)
        sound = self._memory.span(column, from_s, to_s)
        if sound is None:
            return None
        reading = read(sound, self._memory.rate_hz)
        if reading.f_hz is None:
            if patient:
                return None
            raise InputError(
                f"{request.oscillator} stopped sounding at {note_name(request.note)}",
                "sound input",
                "Check that it still sounds, then go on from here",
            )
        t_s = 0.5 * (from_s + to_s) - self._began_s
        against = self._against_reference({request.oscillator: (reading, t_s)}, from_s, to_s)
        if against is None:
            return None
        reading = against[request.oscillator][0]
        assert reading.f_hz is not None
        doubts = tuple(flag.reason for flag in reading.flags if flag.kind not in _HARMLESS)
        # A trimmer was turned: what the other notes were off by no longer tells.
        self._expecting[request.oscillator].only(request.note, reading.f_hz)
        self._how.turned(request.note, reading.f_hz)
        return Heard(request.oscillator, t_s, reading.f_hz, reading.u_cents, doubts)

    # ------------------------------------------------------------------ what goes wrong

    def _whatever_happens(
        self, note: float, cv_v: float, what: Callable[[float, float], None]
    ) -> None:
        """Do something with a note; where a device is gone, wait for it and do it then."""
        try:
            what(note, cv_v)
        except SoundLostError:
            self._recover(note, cv_v)
        except InputError as fault:
            if self._how.alive:
                raise
            self._recover(note, cv_v, fault)

    def _until_it_follows(
        self, note: float, cv_v: float, fault: NotFollowedError | None = None
    ) -> None:
        """Play a note until what sounds changes with it, as long as patience lasts."""
        until_s = time.monotonic() + self._patience_s
        told = fault is not None
        if fault is not None:
            self._say(f"{fault.sentence} The tool waits, then goes on from here.")
        while True:
            try:
                self._whatever_happens(note, cv_v, self._how.relearn)
                return
            except NotFollowedError as again:
                if time.monotonic() > until_s:
                    raise
                if not told:
                    self._say(f"{again.sentence} The tool waits, then goes on from here.")
                told = True

    def _recover(self, note: float, cv_v: float, fault: InputError | None = None) -> None:
        """Wait until what is gone is back, and play the note again."""
        until_s = time.monotonic() + self._patience_s
        what = fault.sentence if fault is not None else "No more sound comes from the input."
        self._say(f"{what} Connect it again: the tool waits, then goes on from here.")
        while True:
            back = self._memory.flowing or self._source.reopen()
            if not self._how.alive:
                try:
                    self._how.reopen()
                except InputError:
                    back = False
            if back and self._sound_comes():
                try:
                    self._how.relearn(note, cv_v)
                except SoundLostError:
                    continue
                except InputError:
                    # It is back, but the instrument behind it may need a moment more.
                    if time.monotonic() > until_s:
                        raise
                    continue
                self._say("It is back.")
                return
            if time.monotonic() > until_s:
                if fault is not None:
                    raise fault
                raise InputError(
                    f"No sound came for {self._patience_s:g} s",
                    "sound input",
                    "Connect it again, and go on from the events",
                )
            self._stop.wait(0.3)

    def _sound_comes(self) -> bool:
        """Whether sound comes evenly again: what was buffered meanwhile comes in a rush."""
        self._memory.pump(1.0)
        gaps, calm_s = self._memory.gaps, time.monotonic() + _CALM_S
        while self._memory.flowing and time.monotonic() < calm_s:
            self._memory.pump()
            if self._memory.gaps > gaps:
                gaps, calm_s = self._memory.gaps, time.monotonic() + _CALM_S
        return self._memory.flowing

    def _column(self, name: str) -> int:
        if name not in self._channels:
            there = ", ".join(self._channels)
            raise InputError(
                f"No channel of this bench is {name}", "bench file", f"There are: {there}"
            )
        return self._channels[name]
