"""Find the spans of a stream in which one note stands still.

How it works: the stream is cut into cells of half a fast frame (40 to 80 ms). A cell is *still*
where either layer of `pitchwright.pitch.frames` sees the same spectrum on both sides of it, unless
frames further apart differ (a slow glide) or the sound drops away in it (a gap between two strikes
of the same note). Runs of still cells are spans; everything else that sounds is left out, and says
why. Nothing here estimates a pitch: that is done carefully, once a span is known.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.pitch.frames import FAR, Decimator, Layer, frame_length

__all__ = ["HELD_EVERY_S", "LONGEST_S", "Skipped", "Span", "SpanFinder"]

Samples = NDArray[np.float32]
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

LONGEST_S: Final = 6.0
"""The longest span; a note held on is heard again every `HELD_EVERY_S`."""

HELD_EVERY_S: Final = 30.0

_SHORTEST_S: Final = 0.12
_SILENT: Final = 1e-9  # mean square: 87 dB below a full-scale sine
_GAP: Final = 0.03  # of the mean square on both sides
_NEIGHBOURS: Final = 8
_LOW_SHARE: Final = 0.3  # of the power that the slow layer must see before it may speak
_PARTS: Final = 4  # of a cell, for the level
_CONTEXT: Final = 3 * FAR  # cells on either side that the decision about one may hang on
_CHANGE_S: Final = 0.4


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of the stream in which one note stands still.

    Attributes
    ----------
    first, last
        Samples from the start of the stream, ``last`` excluded.
    level
        Mean square of the sound without DC, full scale being 1.
    held
        Whether this is a note held on from an earlier span, heard again.
    """

    first: int
    last: int
    level: float
    held: bool = False


@dataclass(frozen=True, slots=True)
class Skipped:
    """A stretch of the stream that sounds but holds no steady note.

    Attributes
    ----------
    first, last
        Samples from the start of the stream, ``last`` excluded.
    level
        Mean square of the sound without DC, full scale being 1.
    why
        The reason, as a sentence without capital and stop.
    """

    first: int
    last: int
    level: float
    why: str


class SpanFinder:
    """Feed one channel block by block; get its finished spans and what lies between them.

    Parameters
    ----------
    rate_hz
        Sample rate, 22.05 to 192 kHz. Notes from 12 Hz to 14 kHz are told apart.

    Notes
    -----
    A span is given about a second after it ends, or `LONGEST_S` after it began; so the sound
    worth keeping is that of the last `reach_s` seconds.
    """

    def __init__(self, rate_hz: float) -> None:
        self._rate_hz = rate_hz
        length = frame_length(rate_hz)
        self._cell = length // 2
        factor = max(1, length // 512)
        self._decimator = Decimator(factor)
        self._fast = Layer(length, length // 2, 1, rate_hz)
        # Frames four times as long, a quarter of one apart: a hop is two cells.
        self._slow = Layer(4 * length // factor, length // factor, 2, rate_hz / factor)
        self._part = self._cell // _PARTS
        self._rest = np.zeros(0, np.float32)
        self._sums = np.zeros((0, 2))
        # What is remembered of frames and parts begins at this cell, always an even one.
        self._base = 0
        self._decided = 0
        self._run = _Run(_State.SILENT, 0)
        self._left: _Run | None = None
        self._before_left = _State.SILENT

    @property
    def reach_s(self) -> float:
        """How far back, in seconds, a span just given may begin (beyond the block just fed)."""
        return LONGEST_S + (_CONTEXT + 8) * self._cell / self._rate_hz

    def feed(self, block: Samples) -> list[Span | Skipped]:
        """Take the next samples (float32, shape (n,)), give what has become certain, in order."""
        self._fast.feed(block)
        self._slow.feed(self._decimator.feed(block))
        self._sum_parts(block)
        return self._decide(self._base + len(self._fast.still) - _CONTEXT)

    def finish(self) -> list[Span | Skipped]:
        """Give what is left at the end of the stream."""
        given = self._decide(self._base + len(self._fast.still))
        return given + self._next_run(_State.SILENT, self._decided) + self._flush(_State.SILENT)

    def _sum_parts(self, block: Samples) -> None:
        sound = np.concatenate((self._rest, block))
        rows = sound[: len(sound) // self._part * self._part].reshape(-1, self._part)
        self._rest = sound[rows.size :]
        sums = np.stack((rows.sum(axis=1), np.einsum("ij,ij->i", rows, rows)), axis=1)
        self._sums = np.concatenate((self._sums, sums.astype(np.float64)))

    def _decide(self, until: int) -> list[Span | Skipped]:
        if until <= self._decided:
            return []
        states, levels = self._states()
        given: list[Span | Skipped] = []
        for cell in range(self._decided, until):
            state = states[cell - self._base]
            if state is not self._run.state:
                given += self._next_run(state, cell)
            self._run.add(float(levels[cell - self._base]))
            if state is _State.STILL:
                given += self._held_on(cell + 1)
        self._decided = until
        forget = max(0, until - _CONTEXT - self._base) // 2 * 2
        self._fast.forget(forget)
        self._slow.forget(forget // 2)
        self._sums = self._sums[forget * _PARTS :]
        self._base += forget
        return given

    def _states(self) -> tuple[list[_State], Floats]:
        """State and mean square of every remembered cell."""
        count = len(self._fast.still)
        lowest, level = self._levels(count)
        padded = np.pad(level, _NEIGHBOURS)
        sides = np.lib.stride_tricks.sliding_window_view(padded, _NEIGHBOURS).max(axis=1)
        gap = lowest < _GAP * np.minimum(sides[:count], sides[_NEIGHBOURS + 1 :][:count])
        fast, same = self._fast.still, (self._fast.same_twice, self._fast.same_far)
        fast = fast & ~_differing(fast, same[0], 2, range(2), 1)
        fast &= ~_differing(fast, same[1], FAR, range(3, 5), 1)
        slow = self._slow_still(level, count)
        still = (fast | slow) & ~gap
        return [
            _State.SILENT if silent else _State.STILL if stays else _State.MOVING
            for silent, stays in zip((level < _SILENT).tolist(), still.tolist(), strict=True)
        ], level

    def _levels(self, count: int) -> tuple[Floats, Floats]:
        """Mean square without DC of two cells' length: the least over each cell, and about it."""
        width = 2 * _PARTS
        needed = (count + 2) * _PARTS + width
        sums = np.pad(self._sums, ((0, max(0, needed - len(self._sums))), (0, 0)), mode="edge")
        running = np.concatenate((np.zeros((1, 2)), np.cumsum(sums, axis=0)))
        windows = (running[width:] - running[:-width]) / (width * self._part)
        squares = np.maximum(windows[:, 1] - windows[:, 0] ** 2, 0.0)
        about = np.lib.stride_tricks.sliding_window_view(squares, _PARTS + 1)[::_PARTS][:count]
        return about.min(axis=1), about[:, _PARTS // 2]

    def _slow_still(self, level: Floats, count: int) -> Bools:
        """Where the slow layer sees one note and enough of the sound to say so; per cell."""
        slow, cells = self._slow, np.zeros(count, bool)
        frames = len(slow.power)
        if frames == 0:
            return cells
        # Cell m lies from m + 1 to m + 2 cell lengths, slow frame j from 2j to 2j + 8.
        centre = np.minimum(2 * np.arange(frames) + 3, count - 1)
        enough = slow.power >= _LOW_SHARE * level[centre]
        pairs = len(slow.still)
        still = slow.still & enough[:pairs] & enough[2:][:pairs]
        for shift in range(4):
            _mark(cells, 2 * np.flatnonzero(still) + 3 + shift)
        twice = _differing(slow.still, slow.same_twice, 3, range(5, 9), 2, count)
        return cells & ~twice & ~_differing(still, slow.same_far, FAR - 1, range(9, 13), 2, count)

    def _next_run(self, state: _State, cell: int) -> list[Span | Skipped]:
        """Close the run that ends before ``cell`` and begin one of another state."""
        run, self._run = self._run, _Run(state, cell)
        if run.count == 0:
            return []
        if run.state is _State.SILENT:
            given = self._flush(_State.SILENT)
            self._before_left = _State.SILENT
            return given
        long_enough = run.count * self._cell >= _SHORTEST_S * self._rate_hz
        if run.state is _State.STILL and (long_enough or run.given):
            given = self._flush(_State.STILL)
            self._before_left = _State.STILL
            if not run.given:
                given.append(self._span(run, run.first, cell))
            return given
        if self._left is None:
            self._left = run
        else:
            self._left.join(run)
        return []

    def _held_on(self, cell: int) -> list[Span | Skipped]:
        """Give a span of a note that is still going on, where it is time for one."""
        run, longest = self._run, int(LONGEST_S * self._rate_hz) // self._cell
        wait = int(HELD_EVERY_S * self._rate_hz) // self._cell
        if run.count != longest + run.given * wait:
            return []
        given = self._flush(_State.STILL)
        self._before_left = _State.STILL
        given.append(self._span(run, cell - longest, cell))
        run.given += 1
        return given

    def _span(self, run: _Run, first: int, cell: int) -> Span:
        begin, end = (first + 1) * self._cell, (cell + 1) * self._cell
        return Span(begin, end, run.level, held=run.given > 0)

    def _flush(self, after: _State) -> list[Span | Skipped]:
        """Give the stretch left out before what comes now."""
        run, self._left = self._left, None
        if run is None:
            return []
        begin, end = (run.first + 1) * self._cell, (run.first + run.count + 1) * self._cell
        seconds = (end - begin) / self._rate_hz
        why = f"no note stood still for {seconds:.2f} s: a glide, several notes at once, or noise"
        if seconds <= _CHANGE_S:
            why = _SHORT_WHY[self._before_left, after]
        return [Skipped(begin, end, run.level, why)]


class _State(Enum):
    SILENT = auto()
    MOVING = auto()
    STILL = auto()


_SHORT_WHY: Final = {
    (_State.STILL, _State.STILL): "changing from one note to the next",
    (_State.SILENT, _State.STILL): "the attack of a note",
    (_State.STILL, _State.SILENT): "the end of a note",
    (_State.SILENT, _State.SILENT): "a sound too short to be read",
}


@dataclass(slots=True)
class _Run:
    """Successive cells of one state."""

    state: _State
    first: int
    count: int = 0
    total: float = 0.0
    given: int = 0

    @property
    def level(self) -> float:
        return self.total / max(1, self.count)

    def add(self, level: float) -> None:
        self.count += 1
        self.total += level

    def join(self, later: _Run) -> None:
        self.count += later.count
        self.total += later.total


def _mark(cells: Bools, places: NDArray[np.intp]) -> None:
    cells[places[places < len(cells)]] = True


def _differing(
    still: Bools, same: Bools, steps: int, middle: range, stride: int, count: int | None = None
) -> Bools:
    """Cells amid frames that differ although each is still against the next.

    ``steps`` near comparisons span the distant one, whose frame i has the cells
    ``stride`` · i + ``middle`` in its midst.
    """
    cells = np.zeros(len(still) if count is None else count, bool)
    pairs = min(len(same), len(still) - steps + 1)
    if pairs <= 0:
        return cells
    unbroken = np.asarray(np.lib.stride_tricks.sliding_window_view(still, steps).all(axis=1))
    places = stride * np.flatnonzero(unbroken[:pairs] & ~same[:pairs])
    for cell in middle:
        _mark(cells, places + cell)
    return cells
