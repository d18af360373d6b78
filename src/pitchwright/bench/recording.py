"""Recordings: what a file holds, block by block, and every way it can be unusable as a sentence."""

from __future__ import annotations

import os
import struct
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Final, Self

import numpy as np
import soundfile as sf
from numpy.typing import NDArray

from pitchwright.bench.opening import opened
from pitchwright.errors import InputError

__all__ = ["HIGHEST_RATE_HZ", "LOWEST_RATE_HZ", "Recording"]

Samples = NDArray[np.float32]

LOWEST_RATE_HZ: Final = 22_050
HIGHEST_RATE_HZ: Final = 192_000

_FORMATS: Final = {"WAV": "WAV", "WAVEX": "WAV", "RF64": "WAV", "FLAC": "FLAC", "AIFF": "AIFF"}
_SUBTYPES: Final = {
    "PCM_16": "16 bit",
    "PCM_24": "24 bit",
    "PCM_32": "32 bit",
    "FLOAT": "32 bit float",
    "DOUBLE": "64 bit float",
}
_EIGHT_BIT: Final = ("PCM_U8", "PCM_S8", "ULAW", "ALAW")
_ACCEPTED: Final = "Record it as WAV, FLAC or AIFF with 16, 24 or 32 bits or float"
_BLOCK_SAMPLES: Final = 1 << 22
# Float files may exceed full scale and still be sound; sixty decibels beyond it is something else.
_BEYOND_SOUND: Final = 1000.0
_UNKNOWN_SIZES: Final = (0, 0x7FFF_FFFF, 0xFFFF_FFFF)


class Recording:
    """An open recording (a context manager), read in blocks of bounded size.

    Parameters
    ----------
    path
        A WAV (RF64 included), FLAC or AIFF file, 16, 24 or 32 bit or float, any number of
        channels, 22.05 to 192 kHz.

    Attributes
    ----------
    path
        The file.
    rate_hz
        Sample rate in hertz.
    channels
        How many channels.
    frames
        How many samples each channel holds.
    format
        In words, for example ``WAV, 24 bit``.

    Raises
    ------
    InputError
        Where the file is missing, a folder, closed to this user, empty, not a recording, cut off,
        8 bit, of another kind, holds no sample, or its sample rate is out of range.
    """

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self.path = Path(path)
        self._where = str(path)
        with opened(path) as raw:
            self._check_whole(raw)
        self._sound = self._opened_sound()
        try:
            self._check_kind()
        except InputError:
            self._sound.close()
            raise

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.frames / self.rate_hz

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._sound.close()

    def blocks(self, block_s: float = 4.0) -> Iterator[Samples]:
        """The samples from the start, block after block.

        Parameters
        ----------
        block_s
            Length of a block in seconds; shorter where many channels would make it large.

        Yields
        ------
        numpy.ndarray
            Float32 of shape (frames, channels), full scale ±1; at most 16 MB.

        Raises
        ------
        InputError
            Where a sample is not a number, infinite or absurdly large (channel and time are
            named), or the file turns out to be damaged or cut off.
        """
        frames = max(1, min(int(block_s * self.rate_hz), _BLOCK_SAMPLES // self.channels))
        first = 0
        while first < self.frames:
            try:
                if first == 0:
                    self._sound.seek(0)
                block = self._sound.read(
                    min(frames, self.frames - first), dtype="float32", always_2d=True
                )
            except (sf.LibsndfileError, RuntimeError) as fault:
                raise self._damaged(first) from fault
            if len(block) == 0:
                raise self._damaged(first)
            self._check_samples(block, first)
            first += len(block)
            yield block

    def _opened_sound(self) -> sf.SoundFile:
        # By name: with a file object the decoder comes back to Python every few kilobytes.
        try:
            return sf.SoundFile(os.fspath(self.path))
        except (sf.LibsndfileError, RuntimeError, TypeError, ValueError, OverflowError) as fault:
            raise InputError("This is not a recording", self._where, _ACCEPTED) from fault

    def _check_whole(self, raw: BinaryIO) -> None:
        size = os.fstat(raw.fileno()).st_size
        if size == 0:
            raise InputError("The file is empty", self._where, "Record it again")
        missing = _missing_bytes(raw, size)
        if missing > 0:
            raise InputError(
                f"The file is cut off: {_bytes_in_words(missing)} of sound are missing at its end",
                self._where,
                "Copy it again from the recorder",
            )

    def _check_kind(self) -> None:
        sound = self._sound
        self.rate_hz = int(sound.samplerate)
        self.channels = int(sound.channels)
        self.frames = int(sound.frames)
        if sound.subtype in _EIGHT_BIT:
            raise InputError(
                "This is an 8-bit recording, whose steps are too coarse to read a pitch from "
                "honestly",
                self._where,
                "Record with 16, 24 or 32 bits or float",
            )
        if sound.format not in _FORMATS or sound.subtype not in _SUBTYPES:
            kind = f"{sound.format_info}, {sound.subtype_info}"
            raise InputError(f"This kind of file is not read ({kind})", self._where, _ACCEPTED)
        self.format = f"{_FORMATS[sound.format]}, {_SUBTYPES[sound.subtype]}"
        if not LOWEST_RATE_HZ <= self.rate_hz <= HIGHEST_RATE_HZ:
            raise InputError(
                f"The sample rate is {self.rate_hz:g} Hz, outside 22050 to 192000 Hz",
                self._where,
                "Record at 48000 or 96000 Hz",
            )
        if self.frames <= 0:
            raise InputError("The recording holds no sound: its length is zero", self._where)

    def _check_samples(self, block: Samples, first: int) -> None:
        # One pass in the usual case: a maximum is not a number as soon as one sample is not.
        loudest = max(float(np.max(block)), -float(np.min(block)))
        if loudest <= _BEYOND_SOUND:
            return
        wrong = ~np.isfinite(block)
        if wrong.any():
            frame, channel = (int(place[0]) for place in np.nonzero(wrong))
            sample = block[frame, channel]
            what = "A sample is not a number" if np.isnan(sample) else "A sample is infinite"
        else:
            frame, channel = (int(place[0]) for place in np.nonzero(np.abs(block) > _BEYOND_SOUND))
            what = f"A sample is {abs(block[frame, channel]):.3g} times full scale"
        raise InputError(
            f"{what} in channel {channel + 1} at {(first + frame) / self.rate_hz:.4f} s",
            self._where,
            "Export the recording again, or cut that place out",
        )

    def _damaged(self, frame: int) -> InputError:
        return InputError(
            f"The file is damaged or cut off after {frame / self.rate_hz:.2f} s "
            f"of {self.duration_s:.2f} s",
            self._where,
            "Copy it again from the recorder",
        )


def _missing_bytes(raw: BinaryIO, size: int) -> int:
    """How many bytes of sound the header promises beyond the end of the file; 0 if unknown.

    The chunk layout is RIFF/WAVE (1991), RF64 (EBU Tech 3306) and AIFF (1989). The decoder shortens
    such files silently, which would turn a failed copy into a shorter take.
    """
    raw.seek(0)
    head = raw.read(12)
    if head[:4] in (b"RIFF", b"RF64") and head[8:] == b"WAVE":
        order, wanted = "<", b"data"
    elif head[:4] == b"FORM" and head[8:] in (b"AIFF", b"AIFC"):
        order, wanted = ">", b"SSND"
    else:
        return 0
    long_size = 0
    at = 12
    while at + 8 <= size:
        raw.seek(at)
        name, length = struct.unpack(f"{order}4sI", raw.read(8))
        if name == b"ds64" and at + 24 <= size:
            long_size = struct.unpack("<QQ", raw.read(16))[1]
        if name == wanted:
            if head[:4] == b"RF64" and length == 0xFFFF_FFFF:
                length = long_size
            if length in _UNKNOWN_SIZES:
                return 0
            return max(0, int(at + 8 + length - size))
        at += 8 + length + length % 2
    return 0


def _bytes_in_words(count: int) -> str:
    for unit, size in (("GB", 1e9), ("MB", 1e6), ("kB", 1e3)):
        if count >= size:
            return f"{count / size:.1f} {unit}"
    return f"{count} bytes"
