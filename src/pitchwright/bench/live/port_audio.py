"""PortAudio, looked up when first used; how it can be missing or refuse, as sentences."""

from __future__ import annotations

import contextlib
import os
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from pitchwright.errors import InputError

__all__ = [
    "Direction",
    "SoundDevice",
    "find_device",
    "port_audio",
    "quiet",
    "rates_that_open",
    "refused",
    "sound_devices",
]

Direction = Literal["in", "out"]

INSTALL = (
    "Install it (Debian, Ubuntu: apt install libportaudio2; Fedora: dnf install portaudio; "
    "macOS and Windows bring it along)"
)
_WORD = {"in": "input", "out": "output"}

_open_streams = 0
_lock = threading.Lock()


@dataclass(frozen=True, slots=True)
class SoundDevice:
    """A sound device as the system names it.

    Attributes
    ----------
    number
        Its number today; it may be another one after something was plugged in.
    name
        Its name.
    system
        The sound system it belongs to (ALSA, Core Audio ...).
    inputs, outputs
        How many channels it claims.
    rate_hz
        Its own sample rate.
    default_in, default_out
        Whether the system takes it where none is named.
    """

    number: int
    name: str
    system: str
    inputs: int
    outputs: int
    rate_hz: float
    default_in: bool
    default_out: bool

    def channels(self, direction: Direction) -> int:
        """How many channels it claims in this direction."""
        return self.inputs if direction == "in" else self.outputs


def port_audio() -> Any:
    """The sounddevice library with PortAudio started.

    Raises
    ------
    InputError
        Where the PortAudio library is missing or does not start.
    """
    try:
        with quiet():
            import sounddevice
    except OSError as fault:
        raise InputError(
            "The PortAudio library, through which sound comes in and goes out, is missing",
            do=INSTALL,
        ) from fault
    except Exception as fault:
        raise InputError(
            f"The sound system does not start ({_short(fault)})",
            do="Check that sound works elsewhere on this computer, then try again",
        ) from fault
    return sounddevice


def sound_devices(*, afresh: bool = False) -> tuple[SoundDevice, ...]:
    """Every sound device there is, in the system's order.

    Parameters
    ----------
    afresh
        Look again for what was plugged in since; only done while no stream of ours is open.
    """
    library = port_audio()
    if afresh:
        _look_again(library)
    try:
        with quiet():
            systems = [system["name"] for system in library.query_hostapis()]
            default_in, default_out = _defaults(library)
            found = list(library.query_devices())
    except library.PortAudioError as fault:
        raise refused(fault, "sound devices") from fault
    return tuple(
        SoundDevice(
            number,
            str(device["name"]),
            str(systems[device["hostapi"]]),
            int(device["max_input_channels"]),
            int(device["max_output_channels"]),
            float(device["default_samplerate"]),
            number == default_in,
            number == default_out,
        )
        for number, device in enumerate(found)
    )


def find_device(wanted: str | int | None, direction: Direction) -> SoundDevice:
    """The device of this number, name or part of a name; the system's default where None.

    Raises
    ------
    InputError
        Where there is none, or several; what there is is listed.
    """
    usable = [device for device in sound_devices() if device.channels(direction) > 0]
    if not usable:
        usable = [d for d in sound_devices(afresh=True) if d.channels(direction) > 0]
    word = _WORD[direction]
    if not usable:
        raise InputError(
            f"This computer has no sound {word}",
            do="Connect an audio interface, or start the sound server, and try again",
        )
    if wanted is None:
        default = [d for d in usable if (d.default_in if direction == "in" else d.default_out)]
        return default[0] if default else usable[0]
    found = _named(usable, wanted)
    if not found:
        usable = [d for d in sound_devices(afresh=True) if d.channels(direction) > 0]
        found = _named(usable, wanted)
    there = "; ".join(f"{device.number}: {device.name}" for device in usable)
    if not found:
        raise InputError(
            f"There is no sound {word} called “{str(wanted)[:60]}”", do=f"There are: {there}"
        )
    if len(found) > 1:
        several = "; ".join(f"{device.number}: {device.name}" for device in found)
        raise InputError(
            f"“{str(wanted)[:60]}” fits several sound {word}s",
            do=f"Give a longer part of the name, or its number: {several}",
        )
    return found[0]


def rates_that_open(
    device: SoundDevice, direction: Direction, rates_hz: Sequence[int]
) -> tuple[int, ...]:
    """Which of these sample rates the device takes, with one channel."""
    if device.channels(direction) == 0:
        return ()
    library = port_audio()
    check = library.check_input_settings if direction == "in" else library.check_output_settings
    found = []
    for rate_hz in rates_hz:
        try:
            with quiet():
                check(device=device.number, channels=1, dtype="float32", samplerate=rate_hz)
        except (library.PortAudioError, ValueError):
            continue
        found.append(rate_hz)
    return tuple(found)


def refused(fault: Exception, where: str, *, rate_hz: float | None = None) -> InputError:
    """What PortAudio's refusal means, as a sentence."""
    text = str(fault)
    if "sample rate" in text.lower() and rate_hz is not None:
        return InputError(
            f"A sample rate of {rate_hz:g} Hz is refused",
            where,
            "“pitchwright devices” lists the rates that open",
        )
    if "channels" in text.lower():
        return InputError(
            "That many channels at once are refused",
            where,
            "“pitchwright devices” lists how many there are",
        )
    return InputError(
        f"The sound system cannot open it ({_short(fault)})",
        where,
        "Check that it is connected, that no other program keeps it to itself, and that the "
        "sound server runs",
    )


@contextlib.contextmanager
def stream_open() -> Iterator[None]:
    """Count a stream that is about to open: while one is open, devices cannot be looked for."""
    _count(+1)
    try:
        yield
    except BaseException:
        _count(-1)
        raise


def stream_closed() -> None:
    """The counterpart of `stream_open`."""
    _count(-1)


def _count(change: int) -> None:
    global _open_streams
    with _lock:
        _open_streams += change


def _look_again(library: Any) -> None:
    # PortAudio lists devices when it starts and never again.
    with _lock, quiet():
        if _open_streams == 0:
            library._terminate()
            library._initialize()


def _defaults(library: Any) -> tuple[int, int]:
    both = library.default.device
    return int(both[0]), int(both[1])


def _named(usable: list[SoundDevice], wanted: str | int) -> list[SoundDevice]:
    text = str(wanted).strip()
    if text.isascii() and text.isdigit():
        return [device for device in usable if device.number == int(text)]
    exact = [device for device in usable if device.name == text]
    if exact:
        return exact[:1]
    return [device for device in usable if text.lower() in device.name.lower()]


def _short(fault: Exception) -> str:
    return str(fault).splitlines()[0][:160] if str(fault) else type(fault).__name__


@contextlib.contextmanager
def quiet() -> Iterator[None]:
    """Keep the sound system's own chatter off the terminal: it goes past Python to stderr."""
    try:
        keep = os.dup(2)
    except OSError:
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(keep, 2)
        os.close(keep)
        os.close(nowhere)
