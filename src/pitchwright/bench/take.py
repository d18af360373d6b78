"""A take: a recording in which notes were played, heard channel by channel.

The recording is read once, block by block. Spans in which a note stands still are found as it goes
by (`pitchwright.pitch.spans`); each is read carefully while its sound is still remembered; when all
is read, the notes heard are laid against the notes meant (`pitchwright.tracking.align`).
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pitchwright.bench.listening import Heard, Listener, PassedOver, listen
from pitchwright.bench.recording import Recording
from pitchwright.errors import InputError
from pitchwright.pitch import FlagKind, Reading, read
from pitchwright.tracking.align import Alignment, HeardPitch, Meant, align
from pitchwright.tracking.point import Point
from pitchwright.units import NOTE_AT_0_V, cents_between, cv_of_note, note_of_hz

__all__ = ["HeardNote", "Take", "TakeChannel", "hear_take", "read_file"]

Samples = NDArray[np.float32]

_GROUP = 32
_REFERENCE_CENTS = 20.0
_FILE_READ_S = 4.0
_WHOLE_S = 6.0
_RINGS_ON = 10.0 ** (-15.0 / 10.0)  # of the loudest note's mean square: 15 dB below it


@dataclass(frozen=True, slots=True)
class HeardNote:
    """One note heard, and which note was meant.

    Attributes
    ----------
    begin_s, end_s
        What was read, in seconds from the start of the recording.
    reading
        The careful reading; with a reference channel its frequency is the ratio to the reference
        times the reference's frequency, and its uncertainty has the reference's in it.
    note
        The note meant, or None for a mistake.
    f_hz
        The frequency that counts: the reading's, or its other octave's where the list asks for it.
    kept
        Whether it counts.
    why
        Why it does not count, or what is doubtful about it; empty where there is nothing to say.
    held
        Whether it is the note before it, held on and read again.
    """

    begin_s: float
    end_s: float
    reading: Reading
    note: int | None
    f_hz: float
    kept: bool
    why: str
    held: bool


@dataclass(frozen=True, slots=True)
class TakeChannel:
    """One channel of a take: one oscillator.

    Attributes
    ----------
    channel
        Counted from 1.
    name
        What the user calls it.
    notes
        The notes heard, in order of time.
    passed_over
        What sounds but was left out, with times and reasons.
    alignment
        How the notes heard were laid against the notes meant.
    doubts
        What a person should know, each a sentence.
    """

    channel: int
    name: str
    notes: tuple[HeardNote, ...]
    passed_over: tuple[PassedOver, ...]
    alignment: Alignment
    doubts: tuple[str, ...]

    def points(self, note_at_0_v: float = NOTE_AT_0_V) -> tuple[Point, ...]:
        """What tracking wants to know, in order of time; mistakes are not in it.

        An instrument that plays whole octaves above or below what was asked for is taken at the
        octave it plays, so that its curve is about that octave; its control voltages are those of
        the notes asked for.
        """
        return tuple(
            Point(
                note=heard.note + 12 * self.alignment.octaves,
                cv_v=cv_of_note(heard.note, note_at_0_v),
                f_hz=heard.f_hz,
                u_cents=heard.reading.u_cents,
                t_s=0.5 * (heard.begin_s + heard.end_s),
                kept=heard.kept,
                why=heard.why,
            )
            for heard in self.notes
            if heard.note is not None
        )


@dataclass(frozen=True, slots=True)
class Take:
    """All that was heard in a recording.

    Attributes
    ----------
    path
        The recording.
    rate_hz, duration_s, format
        What it is.
    channels
        One for each oscillator; the reference is not among them.
    reference
        The reference channel, or None.
    reference_hz
        What the reference is taken to be: as the user said, or its first reading.
    clock_cancels
        Whether the recorder's clock is out of the readings altogether: the reference's frequency
        was given. Where only a reference channel was, the clock's wandering is out of them and its
        constant error is not.
    """

    path: Path
    rate_hz: int
    duration_s: float
    format: str
    channels: tuple[TakeChannel, ...]
    reference: int | None = None
    reference_hz: float | None = None
    clock_cancels: bool = False


def hear_take(
    path: str | os.PathLike[str],
    *,
    notes: Sequence[int] | None = None,
    reference: int | None = None,
    reference_hz: float | None = None,
    names: Sequence[str] | None = None,
    a4_hz: float = 440.0,
    progress: Callable[[float], None] | None = None,
) -> Take:
    """Hear every note of a recording.

    Parameters
    ----------
    path
        The recording.
    notes
        The notes asked for in the order of playing (`pitchwright.tracking.align.parse_notes`);
        None takes the nearest note each time.
    reference
        Channel, counted from 1, that holds one tone throughout; the others are read as ratios to
        it over the same stretch of time, so that the recorder's clock cancels.
    reference_hz
        What the reference's frequency is; None takes its first reading.
    names
        A name for each channel (the reference included); by default ``channel 1`` and so on.
    a4_hz
        What A4 is where the nearest note is taken.
    progress
        Called now and then with the share done, 0 to 1.

    Returns
    -------
    Take
        Channel by channel the notes heard, what was left out and what is doubtful.

    Raises
    ------
    InputError
        Where the recording cannot be used, a channel or name does not fit it, or nothing in it can
        be: all silent, clipped throughout, or no note that stands still.
    """
    with Recording(path) as recording:
        _check_channels(recording, reference, reference_hz, names)
        listeners = _listened(recording, reference, progress)
        _check_sound(recording, listeners)
        nominal_hz = reference_hz
        if reference is not None:
            nominal_hz = _steady_reference(recording, listeners, reference, reference_hz)
        named = names or [f"channel {channel + 1}" for channel in range(recording.channels)]
        return Take(
            recording.path,
            recording.rate_hz,
            recording.duration_s,
            recording.format,
            tuple(
                _channel(listener, named[listener.channel], notes, nominal_hz, a4_hz)
                for listener in listeners
                if listener.channel + 1 != reference
            ),
            reference,
            nominal_hz if reference is not None else None,
            reference is not None and reference_hz is not None,
        )


def read_file(path: str | os.PathLike[str]) -> list[tuple[int, Reading]]:
    """Read each channel of a recording once, carefully.

    A recording of up to six seconds is read whole where one note stands still throughout. Otherwise
    the longest still stretch is read, up to four seconds from its middle. Where nothing stands
    still the reading is of the middle six seconds, and says what is wrong with it.

    Parameters
    ----------
    path
        The recording.

    Returns
    -------
    list of (channel, Reading)
        Channels counted from 1.

    Raises
    ------
    InputError
        Where the recording cannot be used.
    """
    with Recording(path) as recording:
        middle = [read(sound, recording.rate_hz) for sound in _middle(recording)]
        restless = [
            channel
            for channel, reading in enumerate(middle)
            if recording.duration_s > _WHOLE_S
            or reading.has(FlagKind.UNSTEADY)
            or reading.has(FlagKind.NO_PITCH)
        ]
        for first in range(0, len(restless), _GROUP):
            group = restless[first : first + _GROUP]
            for listener in listen(recording, group, read_s=_FILE_READ_S):
                if listener.heard:
                    # What rings on, far below the loudest note, may last longer than it.
                    loudest = max(one.level for one in listener.heard)
                    best = max(
                        listener.heard,
                        key=lambda one: (
                            one.level > _RINGS_ON * loudest,
                            one.kept,
                            one.end_s - one.begin_s,
                        ),
                    )
                    middle[listener.channel] = best.reading
        return [(channel + 1, reading) for channel, reading in enumerate(middle)]


def _middle(recording: Recording) -> Iterator[Samples]:
    """The middle six seconds of every channel, or all where there is no more."""
    frames = round(min(_WHOLE_S, recording.duration_s) * recording.rate_hz)
    begin = (recording.frames - frames) // 2
    at, kept = 0, []
    for block in recording.blocks():
        piece = block[max(0, begin - at) : max(0, begin + frames - at)]
        # All is gone through, so that damage further on is not missed.
        if len(piece):
            kept.append(piece.copy())
        at += len(block)
    sound = np.concatenate(kept)
    for channel in range(recording.channels):
        yield np.ascontiguousarray(sound[:, channel])


def _check_channels(
    recording: Recording,
    reference: int | None,
    reference_hz: float | None,
    names: Sequence[str] | None,
) -> None:
    where, count = str(recording.path), recording.channels
    plural = "s" if count > 1 else ""
    if reference is not None and not 1 <= reference <= count:
        raise InputError(
            f"There is no channel {reference} for the reference: the recording has {count} "
            f"channel{plural}",
            where,
        )
    if reference is not None and count == 1:
        raise InputError(
            "The only channel cannot be the reference", where, "Record the oscillator beside it"
        )
    if reference_hz is not None and not (math.isfinite(reference_hz) and reference_hz > 0.0):
        raise InputError(f"A reference of {reference_hz:g} Hz cannot be", "", "Check the figure")
    if names is not None and len(names) != count:
        raise InputError(
            f"{len(names)} name{'s' if len(names) != 1 else ''} for {count} channel{plural}",
            where,
            "Give one name for each channel",
        )


def _listened(
    recording: Recording, reference: int | None, progress: Callable[[float], None] | None
) -> list[Listener]:
    """Every channel heard, in groups so that many channels need no more memory than some."""
    beside = None if reference is None else reference - 1
    others = [channel for channel in range(recording.channels) if channel != beside]
    groups = [others[first : first + _GROUP] for first in range(0, len(others), _GROUP)]
    listeners: dict[int, Listener] = {}
    for place, group in enumerate(groups):
        listened = listen(
            recording,
            group if beside is None else [*group, beside],
            reference=beside,
            progress=_part(progress, place, len(groups)),
        )
        listeners.update((listener.channel, listener) for listener in listened)
    return [listeners[channel] for channel in sorted(listeners)]


def _part(
    progress: Callable[[float], None] | None, place: int, count: int
) -> Callable[[float], None] | None:
    if progress is None:
        return None
    return lambda share: progress((place + share) / count)


def _check_sound(recording: Recording, listeners: Sequence[Listener]) -> None:
    where = str(recording.path)
    heard = [one for listener in listeners for one in listener.heard]
    if not heard and not any(listener.passed_over for listener in listeners):
        silent = (
            "The recording is silent"
            if recording.channels == 1
            else f"All {recording.channels} channels are silent"
        )
        raise InputError(silent, where, "Check the cables, the input and the level")
    if not any(one.kept for one in heard):
        reasons = [one.why for one in heard] + [
            passed.why for listener in listeners for passed in listener.passed_over
        ]
        raise InputError(
            f"No note stood still long enough to be read (for example: {reasons[0].rstrip('.')})",
            where,
            "Hold each note for a second or more, without glide",
        )
    if all(one.reading.has(FlagKind.CLIPPED) for one in heard):
        raise InputError(
            "The sound is clipped throughout", where, "Turn the input down and record it again"
        )


def _steady_reference(
    recording: Recording, listeners: Sequence[Listener], reference: int, given_hz: float | None
) -> float:
    """What the reference is taken to be, once it is known to hold one tone."""
    where = f"{recording.path}, channel {reference}"
    listener = next(one for one in listeners if one.channel + 1 == reference)
    heard = [
        one.reading.f_hz for one in listener.heard if one.kept and one.reading.f_hz is not None
    ]
    if not heard:
        raise InputError(
            "The reference was not heard", where, "Name the channel that holds the reference tone"
        )
    farthest = max(heard, key=lambda f_hz: abs(cents_between(f_hz, heard[0])))
    moved = cents_between(farthest, heard[0])
    if abs(moved) > _REFERENCE_CENTS:
        raise InputError(
            f"The reference moves by {abs(moved):.0f} cents: it must hold one tone throughout",
            where,
            "Name the channel that holds the reference tone",
        )
    if given_hz is not None and abs(cents_between(heard[0], given_hz)) > _REFERENCE_CENTS:
        raise InputError(
            f"The reference was heard at {heard[0]:.2f} Hz, not near {given_hz:g} Hz",
            where,
            "Check its channel and its frequency",
        )
    return heard[0] if given_hz is None else given_hz


def _channel(
    listener: Listener,
    name: str,
    written: Sequence[int] | None,
    reference_hz: float | None,
    a4_hz: float,
) -> TakeChannel:
    heard = [_against_reference(one, reference_hz) for one in listener.heard]
    counted = [one for one in heard if one.kept]
    laid = align([_pitch(one, a4_hz) for one in counted], written)
    meant = iter(laid.meant)
    notes = [
        _note(one, next(meant) if one.kept else _about(one, laid, written, a4_hz)) for one in heard
    ]
    doubts = list(laid.doubts)
    if not heard:
        doubts.append(
            "No note was heard on this channel"
            if listener.passed_over
            else "This channel is silent"
        )
    elif all(one.reading.has(FlagKind.CLIPPED) for one in heard):
        doubts.append("The sound is clipped throughout: turn the input down and record it again")
    return TakeChannel(
        listener.channel + 1, name, tuple(notes), tuple(listener.passed_over), laid, tuple(doubts)
    )


def _against_reference(one: Heard, reference_hz: float | None) -> Heard:
    """The reading as a ratio to the reference over the same time, times what the reference is."""
    if one.reference is None or reference_hz is None or one.reading.f_hz is None:
        return one
    beside = one.reference
    if beside.f_hz is None or abs(cents_between(beside.f_hz, reference_hz)) > _REFERENCE_CENTS:
        lost = "The reference was not heard beside it, so the recorder's clock is still in it"
        return replace(one, why=f"{one.why}; {lost}" if one.why else lost)
    reading = replace(
        one.reading,
        f_hz=one.reading.f_hz * (reference_hz / beside.f_hz),
        u_cents=math.hypot(one.reading.u_cents, beside.u_cents),
    )
    return replace(one, reading=reading)


def _other_hz(reading: Reading) -> float | None:
    others = [flag.other_hz for flag in reading.flags if flag.kind is FlagKind.OCTAVE_AMBIGUOUS]
    return others[0] if others else None


def _pitch(one: Heard, a4_hz: float) -> HeardPitch:
    assert one.reading.f_hz is not None
    other_hz = _other_hz(one.reading)
    return HeardPitch(
        note_of_hz(one.reading.f_hz, a4_hz),
        None if other_hz is None else note_of_hz(other_hz, a4_hz),
        one.held,
    )


def _about(one: Heard, laid: Alignment, written: Sequence[int] | None, a4_hz: float) -> Meant:
    """The note that a reading which does not count stands for, for the record."""
    note = round(_pitch(one, a4_hz).note - laid.offset_semitones)
    return Meant(note if written is None or note in written else None)


def _note(one: Heard, meant: Meant) -> HeardNote:
    f_hz = one.reading.f_hz
    assert f_hz is not None
    other_hz = _other_hz(one.reading)
    if meant.other_octave and other_hz is not None:
        # The other candidate is a coarse figure; that it is a whole multiple is not.
        ratio = other_hz / f_hz
        f_hz = f_hz * round(ratio) if ratio >= 1.0 else f_hz / round(1.0 / ratio)
    why = "; ".join(reason for reason in (one.why, meant.why) if reason)
    return HeardNote(
        one.begin_s,
        one.end_s,
        one.reading,
        meant.note,
        f_hz,
        one.kept and meant.note is not None,
        why,
        one.held,
    )
