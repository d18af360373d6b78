"""The reference tone: the target pitch made to sound, so that a person hears the beats die.

It starts silent, fades in to a low level, and fades out before the output is let go.
"""

from __future__ import annotations

import time
from types import TracebackType
from typing import Final, Literal, Self

import numpy as np
from numpy.typing import NDArray

from pitchwright.bench.live.out_stream import OutStream
from pitchwright.bench.live.port_audio import find_device
from pitchwright.errors import InputError

__all__ = ["LOUDEST_DBFS", "Shape", "SoundingTone", "Tone"]

Array = NDArray[np.float64]
Shape = Literal["saw", "sine"]

LOUDEST_DBFS: Final = -12.0
_FADE_IN_S: Final = 2.0
_FADE_OUT_S: Final = 0.3
_SPARE_S: Final = 0.2  # a sound server has a buffer of its own
_BAND: Final = 0.45
# Points of the table per harmonic: straight lines between them are then good to 60 dB.
_FINENESS: Final = 32


class Tone:
    """Samples of a tone, band-limited.

    Parameters
    ----------
    f_hz
        Frequency.
    rate_hz
        Sample rate.
    shape
        Sawtooth, whose many harmonics beat clearly, or sine.
    level_dbfs
        Peak level once faded in.

    Raises
    ------
    InputError
        Where the frequency cannot be heard or does not fit the sample rate, or the level is too
        high.
    """

    def __init__(
        self, f_hz: float, rate_hz: float, *, shape: Shape = "saw", level_dbfs: float = -30.0
    ) -> None:
        if not 10.0 <= f_hz <= _BAND * rate_hz:
            raise InputError(
                f"A tone of {f_hz:.1f} Hz cannot be made at {rate_hz:g} samples a second",
                do=f"Choose 10 to {_BAND * rate_hz:.0f} Hz",
            )
        if not level_dbfs <= LOUDEST_DBFS:
            raise InputError(
                f"A reference tone at {level_dbfs:g} dBFS is too loud",
                do=f"Choose {LOUDEST_DBFS:g} or less, and turn the loudspeaker up instead, slowly",
            )
        self.f_hz, self.rate_hz = f_hz, rate_hz
        harmonics = max(1, int(_BAND * rate_hz / f_hz)) if shape == "saw" else 1
        size = 1 << max(10, (_FINENESS * harmonics - 1).bit_length())
        lines = np.zeros(size // 2 + 1, dtype=np.complex128)
        lines[1 : harmonics + 1] = -0.5j * size / np.arange(1, harmonics + 1)
        table: Array = np.fft.irfft(lines, size)
        table *= 10.0 ** (level_dbfs / 20.0) / float(np.abs(table).max())
        self._table = np.append(table, table[0])
        self._size = size
        self._stop_at: int | None = None
        self._asked_to_stop = False
        self._silent = False

    @property
    def silent(self) -> bool:
        """Whether it has faded out."""
        return self._silent

    def stop(self) -> None:
        """Fade out from the next samples on."""
        self._asked_to_stop = True

    def samples(self, first: int, count: int) -> Array:
        """Samples ``first`` to ``first + count - 1`` since it began; shape (count,)."""
        number = np.arange(first, first + count, dtype=np.float64)
        at = (number * (self.f_hz / self.rate_hz)) % 1.0 * self._size
        low = at.astype(np.intp)
        part = at - low
        sound: Array = self._table[low] * (1.0 - part) + self._table[low + 1] * part
        sound *= _risen(number / self.rate_hz / _FADE_IN_S)
        if self._asked_to_stop and self._stop_at is None:
            self._stop_at = first
        if self._stop_at is not None:
            gone = (number - self._stop_at) / self.rate_hz / _FADE_OUT_S
            sound *= 1.0 - _risen(gone)
            self._silent = bool(gone[-1] >= 1.0)
        return sound


class SoundingTone:
    """A tone that sounds on a device (a context manager); leaving it fades the tone out.

    Parameters
    ----------
    f_hz
        Frequency.
    device
        Name, part of a name or number of a sound output; None for the system's default.
    rate_hz
        Sample rate; None for the device's own.
    channels
        Numbers of the channels it sounds on, from 1.
    shape, level_dbfs
        As for `Tone`.
    """

    def __init__(
        self,
        f_hz: float,
        device: str | int | None = None,
        *,
        rate_hz: float | None = None,
        channels: tuple[int, ...] = (1, 2),
        shape: Shape = "saw",
        level_dbfs: float = -30.0,
    ) -> None:
        found = find_device(device, "out")
        if min(channels) < 1 or max(channels) > found.outputs:
            wrong = min(channels) if min(channels) < 1 else max(channels)
            raise InputError(
                f"There is no output channel {wrong}",
                found.name,
                f"It has channels 1 to {found.outputs}",
            )
        self.device_name = found.name
        rate_hz = float(rate_hz or found.rate_hz)
        self._tone = Tone(f_hz, rate_hz, shape=shape, level_dbfs=level_dbfs)
        self._columns = [number - 1 for number in channels]
        self._wide = max(channels)
        self._stream = OutStream(
            found.number, rate_hz=rate_hz, channels=self._wide, fill=self._fill
        )
        self._stream.start()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def check(self) -> None:
        """Raise what went wrong; InputError where the output is gone."""
        self._stream.check()

    def close(self) -> None:
        """Fade out, and let go of the device."""
        self._tone.stop()
        until = time.monotonic() + _FADE_OUT_S + 4 * self._stream.latency_s
        while self._stream.running and not self._tone.silent and time.monotonic() < until:
            time.sleep(0.01)
        if self._stream.running:
            # What is still in the buffer must be the end of the fade, not its middle.
            time.sleep(self._stream.latency_s + _SPARE_S)
        self._stream.close()

    def _fill(self, frames: int, first: int) -> Array:
        out = np.zeros((frames, self._wide))
        out[:, self._columns] = self._tone.samples(first, frames)[:, None]
        return out


def _risen(share: Array) -> Array:
    """A smooth rise from 0 to 1 while the share goes from 0 to 1."""
    risen: Array = 0.5 - 0.5 * np.cos(np.pi * np.clip(share, 0.0, 1.0))
    return risen
