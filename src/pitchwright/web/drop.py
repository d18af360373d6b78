"""Recordings dropped onto the page: put aside safely, heard, surveyed, and forgotten again.

What a browser sends is not believed: the name is only shown (and its ending looked at), the size is
counted while it comes, and what is in it is for `pitchwright.bench.take` to judge. One recording is
heard at a time, in a thread, so that the page stays quick.
"""

from __future__ import annotations

import os
import shutil
import tempfile
import threading
from collections import deque
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import TYPE_CHECKING, Final

from pitchwright.errors import PitchwrightError
from pitchwright.web.refusing import refused

if TYPE_CHECKING:
    from pitchwright.bench.take import TakeChannel
    from pitchwright.tracking import OscillatorSurvey

__all__ = ["MOST_BYTES", "Dropped", "Drops", "shown_name"]

MOST_BYTES: Final = 1 << 30
"""Of one recording: an hour of four channels at 48 kHz and 24 bits is two thirds of that."""
_ENDINGS: Final = (".wav", ".flac", ".aif", ".aiff")
_MOST_KEPT: Final = 12
_MOST_WAITING: Final = 4
_FEWEST_NOTES: Final = 3
_ROOM_LEFT_BYTES: Final = 200_000_000


@dataclass(frozen=True, slots=True)
class Dropped:
    """One recording that was dropped.

    Attributes
    ----------
    number
        Counted from 1.
    name
        Its file's name, fit to be shown.
    share
        How much of it was heard, 0 to 1.
    surveys
        One for each channel that could be surveyed, once it is heard.
    sentences
        What a person should know: doubts, channels left out, or why it cannot be used.
    done
        Whether it is over, well or not.
    """

    number: int
    name: str
    share: float = 0.0
    surveys: tuple[OscillatorSurvey, ...] = ()
    sentences: tuple[str, ...] = ()
    done: bool = False


class Drops:
    """The recordings dropped so far; safe to call from any thread.

    Parameters
    ----------
    changed
        Is given all of them whenever one has changed.
    """

    def __init__(self, changed: Callable[[tuple[Dropped, ...]], None]) -> None:
        self._changed = changed
        self._lock = threading.Lock()
        self._dropped: dict[int, Dropped] = {}
        self._count = 0
        self._waiting: deque[tuple[int, Path]] = deque()
        self._hearing = False
        self._folder: Path | None = None

    async def take(self, name: str, chunks: AsyncIterator[bytes], most: int = MOST_BYTES) -> int:
        """Put one recording aside as it comes, then have it heard; its number.

        Raises
        ------
        InputError
            Where it cannot be a recording by its name, is too large, was cut off, or there is no
            room; nothing of it is kept then.
        """
        shown = shown_name(name)
        ending = Path(shown).suffix.casefold()
        if ending not in _ENDINGS:
            raise refused("no recording", shown)
        with self._lock:
            if len(self._waiting) >= _MOST_WAITING:
                raise refused("recordings wait", shown)
            if self._folder is None:
                self._folder = Path(tempfile.mkdtemp(prefix="pitchwright-page-"))
        most = min(most, max(0, shutil.disk_usage(self._folder).free - _ROOM_LEFT_BYTES))
        handle, path = tempfile.mkstemp(suffix=ending, dir=self._folder)
        aside = Path(path)
        try:
            with os.fdopen(handle, "wb") as kept:
                size = 0
                async for chunk in chunks:
                    size += len(chunk)
                    if size > most:
                        raise refused("too large", shown, megabytes=most >> 20)
                    kept.write(chunk)
        except BaseException:
            aside.unlink(missing_ok=True)
            raise
        return self._hear_later(shown, aside)

    def close(self) -> None:
        """Forget all that was put aside."""
        if self._folder is not None:
            shutil.rmtree(self._folder, ignore_errors=True)

    def _hear_later(self, shown: str, aside: Path) -> int:
        with self._lock:
            self._count += 1
            number = self._count
            self._dropped[number] = Dropped(number, shown)
            for old in list(self._dropped)[:-_MOST_KEPT]:
                if self._dropped[old].done:
                    del self._dropped[old]
            self._waiting.append((number, aside))
            begin, self._hearing = not self._hearing, True
        self._tell()
        if begin:
            threading.Thread(target=self._hear_all, name="hearing", daemon=True).start()
        return number

    def _hear_all(self) -> None:
        while True:
            with self._lock:
                if not self._waiting:
                    self._hearing = False
                    return
                number, aside = self._waiting.popleft()
            self._hear(number, aside)

    def _hear(self, number: int, aside: Path) -> None:
        from pitchwright.bench.take import hear_take

        shown = self._dropped[number].name
        heard_before = 0.0

        def progress(share: float) -> None:
            nonlocal heard_before
            if share - heard_before >= 0.02:
                heard_before = share
                self._change(number, share=share)

        try:
            take = hear_take(aside, progress=progress)
            surveys, sentences = _surveyed(take.channels)
        except PitchwrightError as refused:
            surveys, sentences = (), (refused.sentence.replace(str(aside), shown),)
        except Exception as broken:
            sentence = f"Internal fault, not yours: {type(broken).__name__}: {broken}."
            surveys, sentences = (), (sentence,)
        aside.unlink(missing_ok=True)
        self._change(number, share=1.0, surveys=surveys, sentences=sentences, done=True)

    def _change(self, number: int, **changes: object) -> None:
        with self._lock:
            if number in self._dropped:
                self._dropped[number] = replace(self._dropped[number], **changes)  # type: ignore[arg-type]
        self._tell()

    def _tell(self) -> None:
        with self._lock:
            dropped = tuple(self._dropped.values())
        self._changed(dropped)


def shown_name(name: str) -> str:
    """A file's name as a browser gave it, fit to be shown: no folders, nothing unprintable."""
    last = PurePosixPath(PureWindowsPath(name).name).name
    kept = "".join(letter for letter in last if letter.isprintable() and letter not in '<>:"|?*')
    kept = kept.strip(" .")
    return f"{Path(kept).stem[:80]}{Path(kept).suffix[:8]}" if kept else "recording"


def _surveyed(
    channels: tuple[TakeChannel, ...],
) -> tuple[tuple[OscillatorSurvey, ...], tuple[str, ...]]:
    from pitchwright.procedures.circumstances import Circumstances
    from pitchwright.procedures.outcomes import SurveyClosed
    from pitchwright.procedures.surveyed import surveyed

    under = Circumstances(clock_ppm=50.0)
    surveys, sentences = [], []
    for channel in channels:
        points = channel.points()
        notes = {point.note for point in points if point.kept}
        sentences += [f"{channel.name}: {doubt.rstrip('.')}." for doubt in channel.doubts]
        if len(notes) < _FEWEST_NOTES:
            sentences.append(
                f"{channel.name}: Fewer than three notes were read, which shows nothing. Play "
                "three or more, far apart."
            )
            continue
        surveys.append(surveyed(SurveyClosed(channel.name, points, circumstances=under)))
    return tuple(surveys), tuple(sentences)
