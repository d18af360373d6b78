"""Listen to a recording as it goes by: find the spans, read each while it is remembered."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.bench.recording import Recording
from pitchwright.pitch import FlagKind, Reading, read
from pitchwright.pitch.spans import Skipped, Span, SpanFinder
from pitchwright.pitch.still import StillPart, still_part
from pitchwright.units import cents_between

__all__ = ["READ_S", "Heard", "Listener", "PassedOver", "listen"]

Samples = NDArray[np.float32]

READ_S: Final = 1.0
"""How much of a note is read: it holds sixteen periods of the lowest."""

_WIDER_S: Final = 0.03  # a span ends a little inside its note
_SETTLE_SHARE: Final = 0.2
_SETTLE_S: Final = 0.15
_SHORTEST_S: Final = 0.05
_MOVING_CENTS: Final = 3.0
_PIECE_S: Final = 0.35
_PIECES_S: Final = 0.5
_PIECES_CENTS: Final = 30.0
_QUIET: Final = 1e-4  # of the loudest note's mean square: 40 dB below it is leakage

_LEAKAGE: Final = (
    "more than 40 dB below the loudest note: taken for hum or for another channel's sound"
)


@dataclass(frozen=True, slots=True)
class Heard:
    """One note heard on one channel.

    Attributes
    ----------
    begin_s, end_s
        What was read, in seconds from the start of the recording.
    reading
        The careful reading of it.
    reference
        The reading of the reference channel over the same stretch; None without one.
    level
        Mean square of the note.
    kept
        Whether the reading counts.
    why
        Why it does not, or what is doubtful; empty where there is nothing to say.
    held
        Whether it is the note before it, held on.
    """

    begin_s: float
    end_s: float
    reading: Reading
    reference: Reading | None
    level: float
    kept: bool
    why: str
    held: bool


@dataclass(frozen=True, slots=True)
class PassedOver:
    """A stretch of a channel that sounds but was not read.

    Attributes
    ----------
    begin_s, end_s
        Where, in seconds from the start of the recording.
    level
        Its mean square.
    why
        The reason, without capital and stop.
    """

    begin_s: float
    end_s: float
    level: float
    why: str


class Listener:
    """One channel, heard block by block.

    Parameters
    ----------
    channel
        Counted from 0.
    rate_hz
        Sample rate.
    read_s
        How much of a note to read.

    Attributes
    ----------
    heard, passed_over
        What was heard so far, and what was left out; whole once `close` was called.
    """

    def __init__(self, channel: int, rate_hz: float, read_s: float) -> None:
        self.channel = channel
        self._rate_hz = rate_hz
        self._read_s = read_s
        self._finder = SpanFinder(rate_hz)
        self._loudest = 0.0
        self.heard: list[Heard] = []
        self.passed_over: list[PassedOver] = []

    @property
    def reach(self) -> int:
        """How many samples before the present block must be remembered."""
        return math.ceil((self._finder.reach_s + _WIDER_S) * self._rate_hz)

    def hear(self, memory: Memory, reference: int | None) -> None:
        """Listen to the newest block of the memory."""
        self._take(self._finder.feed(memory.newest[self.channel]), memory, reference)

    def close(self, memory: Memory, reference: int | None) -> None:
        """Hear what is left when the recording ends, and drop what turned out to be leakage."""
        self._take(self._finder.finish(), memory, reference)
        self._join_pieces()
        quiet = [heard for heard in self.heard if heard.level < _QUIET * self._loudest]
        self.heard = [heard for heard in self.heard if heard.level >= _QUIET * self._loudest]
        for heard in quiet:
            self._pass_quiet(heard.begin_s, heard.end_s, heard.level)
        # What is quieter still than leakage and does not even stand still is silence.
        self.passed_over = [
            passed
            for passed in self.passed_over
            if passed.why == _LEAKAGE or passed.level >= _QUIET * self._loudest
        ]
        self.passed_over.sort(key=lambda passed: passed.begin_s)

    def _take(self, found: Sequence[Span | Skipped], memory: Memory, reference: int | None) -> None:
        for stretch in found:
            begin_s, end_s = stretch.first / self._rate_hz, stretch.last / self._rate_hz
            if isinstance(stretch, Skipped):
                self.passed_over.append(PassedOver(begin_s, end_s, stretch.level, stretch.why))
            elif stretch.level < _QUIET * self._loudest:
                self._pass_quiet(begin_s, end_s, stretch.level)
            else:
                self._loudest = max(self._loudest, stretch.level)
                self._read(stretch, memory, reference)

    def _join_pieces(self) -> None:
        """Of a note that fell into two pieces keep the longer: the other is its attack or end."""
        heard: list[Heard] = []
        for late in self.heard:
            early = heard[-1] if heard else None
            if early is None or not _one_note(early, late):
                heard.append(late)
                continue
            shorter, longer = sorted((early, late), key=lambda one: one.end_s - one.begin_s)
            why = "a piece of a note of which a longer one was read"
            self.passed_over.append(PassedOver(shorter.begin_s, shorter.end_s, shorter.level, why))
            heard[-1] = longer
        self.heard = heard

    def _pass_quiet(self, begin_s: float, end_s: float, level: float) -> None:
        self.passed_over.append(PassedOver(begin_s, end_s, level, _LEAKAGE))

    def _read(self, span: Span, memory: Memory, reference: int | None) -> None:
        wider = round(_WIDER_S * self._rate_hz)
        start = max(memory.first, span.first - wider, 0)
        sound = memory.sound(self.channel, start, span.last + wider)
        reading, first, last, part = read_still(sound, self._rate_hz, self._read_s)
        begin_s, end_s = (start + first) / self._rate_hz, (start + last) / self._rate_hz
        if reading.f_hz is None:
            why = "; ".join(flag.reason for flag in reading.flags) or "no pitch"
            self.passed_over.append(
                PassedOver(
                    span.first / self._rate_hz,
                    span.last / self._rate_hz,
                    span.level,
                    why[:1].lower() + why[1:],
                )
            )
            return
        kept, why = _judged(reading, part)
        beside = None
        if reference is not None and reference != self.channel:
            beside = memory.reading(reference, start + first, start + last, self._rate_hz)
        self.heard.append(Heard(begin_s, end_s, reading, beside, span.level, kept, why, span.held))


def read_still(
    sound: Samples, rate_hz: float, read_s: float
) -> tuple[Reading, int, int, StillPart]:
    """Read the middle of the part of a span in which the pitch stands still.

    Parameters
    ----------
    sound
        The span, shape (n,).
    rate_hz
        Sample rate.
    read_s
        How much to read at most.

    Returns
    -------
    reading, first, last, part
        The reading, the samples it is of, and the still part they are from.
    """
    whole = len(sound)
    longest = round(read_s * rate_hz)
    first, last = _middle(0, whole, longest if whole >= 1.5 * longest else round(0.6 * whole))
    reading = read(sound[first:last], rate_hz)
    if reading.f_hz is None:
        return reading, first, last, StillPart(0, whole, 0.0, 0.0)
    part = still_part(sound, rate_hz, reading.f_hz)
    length = part.last - part.first
    if part.share == 0.0 or length < _SHORTEST_S * rate_hz:
        return reading, first, last, part
    settle = round(min(_SETTLE_SHARE * length, _SETTLE_S * rate_hz))
    best = _middle(part.first + settle, part.last - settle // 4, longest)
    inside = part.first + settle <= first and last <= part.last - settle // 4
    if inside and last - first >= 0.95 * (best[1] - best[0]):
        return reading, first, last, part
    again = read(sound[best[0] : best[1]], rate_hz)
    if again.f_hz is None:
        return reading, first, last, part
    return again, *best, part


def _one_note(early: Heard, late: Heard) -> bool:
    """Whether two notes are pieces of one: close in time and pitch, and one of them short."""
    f_hz = early.reading.f_hz, late.reading.f_hz
    if f_hz[0] is None or f_hz[1] is None or late.held:
        return False
    lengths = sorted((early.end_s - early.begin_s, late.end_s - late.begin_s))
    return (
        late.begin_s - early.end_s < _PIECES_S
        and lengths[0] < min(_PIECE_S, 0.5 * lengths[1])
        and abs(cents_between(f_hz[1], f_hz[0])) < _PIECES_CENTS
    )


def _middle(first: int, last: int, longest: int) -> tuple[int, int]:
    length = min(longest, last - first)
    begin = first + (last - first - length) // 2
    return begin, begin + length


def _judged(reading: Reading, part: StillPart) -> tuple[bool, str]:
    """Whether a reading counts, and what is to be said about it."""
    why = "; ".join(flag.reason for flag in reading.flags)
    if part.share == 0.0:
        return False, "The pitch never settled while the note sounded"
    if reading.has(FlagKind.UNSTEADY) and part.swing_cents > _MOVING_CENTS:
        return False, why
    return not reading.has(FlagKind.TOO_SHORT), why


class Memory:
    """The sound of the last seconds of some channels.

    Parameters
    ----------
    channels
        Which channels of the recording, counted from 0.
    """

    def __init__(self, channels: Sequence[int]) -> None:
        self._channels = list(channels)
        self._blocks: deque[tuple[int, Samples]] = deque()
        self._read: tuple[tuple[int, int, int], Reading] | None = None
        self.newest: dict[int, Samples] = {}
        self.first = 0
        self.last = 0

    def add(self, block: Samples, reach: int) -> None:
        """Remember a block (frames, channels); forget what ends ``reach`` samples before it."""
        sound = np.ascontiguousarray(block.T[self._channels])
        while self._blocks and self._blocks[0][0] + self._blocks[0][1].shape[1] < self.last - reach:
            self._blocks.popleft()
        self._blocks.append((self.last, sound))
        self.first = self._blocks[0][0]
        self.last += sound.shape[1]
        self.newest = dict(zip(self._channels, sound, strict=True))

    def sound(self, channel: int, first: int, last: int) -> Samples:
        """What one channel sounded like from one sample to another, as far as remembered."""
        row = self._channels.index(channel)
        parts = [
            sound[row, max(0, first - start) : max(0, last - start)]
            for start, sound in self._blocks
        ]
        return np.concatenate(parts) if parts else np.zeros(0, np.float32)

    def reading(self, channel: int, first: int, last: int, rate_hz: float) -> Reading:
        """Reading of one channel over one stretch; the one before is kept, channels share them."""
        asked = (channel, first, last)
        if self._read is None or self._read[0] != asked:
            self._read = asked, read(self.sound(channel, first, last), rate_hz)
        return self._read[1]


def listen(
    recording: Recording,
    channels: Sequence[int],
    *,
    reference: int | None = None,
    read_s: float = READ_S,
    progress: Callable[[float], None] | None = None,
) -> list[Listener]:
    """Hear some channels of a recording from start to end.

    Parameters
    ----------
    recording
        What to listen to.
    channels
        Which, counted from 0; the reference among them if there is one.
    reference
        The channel read beside every note of the others.
    read_s
        How much of a note to read.
    progress
        Called after every block with the share done, 0 to 1.

    Returns
    -------
    list of Listener
        One for each channel, in the order given.
    """
    listeners = [Listener(channel, recording.rate_hz, read_s) for channel in channels]
    memory = Memory(channels)
    reach = max(listener.reach for listener in listeners)
    for block in recording.blocks():
        memory.add(block, reach)
        for listener in listeners:
            listener.hear(memory, reference)
        if progress is not None:
            progress(min(1.0, memory.last / recording.frames))
    for listener in listeners:
        listener.close(memory, reference)
    return listeners
