"""How notes come to sound, as the live bench wants it: played by the tool, or by a person."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InputError

__all__ = ["Kept", "NotFollowedError", "Playing", "SoundLostError", "Window"]


class NotFollowedError(InputError):
    """What sounds does not change with the notes."""


class SoundLostError(Exception):
    """No more sound comes: the device is gone, or dead."""


@dataclass(frozen=True, slots=True)
class Window:
    """When a note sounds and has settled, in seconds of `time.monotonic`; the end may be open."""

    from_s: float
    until_s: float


@dataclass(frozen=True, slots=True)
class Kept:
    """The sound of a note that was played before it was asked for.

    Attributes
    ----------
    sound
        By column of the source.
    middle_s
        When, in seconds of `time.monotonic`.
    """

    sound: dict[int, NDArray[np.float32]]
    middle_s: float


class Playing(Protocol):
    """Has notes sound, and knows when they are heard.

    ``SoundLostError`` may be raised wherever sound is waited for, ``NotFollowedError`` where a
    note was played and nothing changed.
    """

    @property
    def alive(self) -> bool:
        """Whether what plays is still there."""

    @property
    def learns_delay(self) -> bool:
        """Whether notes come a delay after they are asked for that was learned."""

    @property
    def kept(self) -> Kept | None:
        """What is to be read instead of what sounds now."""

    @property
    def sure(self) -> bool:
        """Whether somebody said that what sounds is the note, however far off it is."""

    def expect(self, notes: Sequence[tuple[float, float]]) -> None:
        """Say the order in which notes will be asked for, with their voltages."""

    def play(self, note: float, cv_v: float) -> None:
        """Have a note sound and stay."""

    def again(self, note: float, cv_v: float) -> None:
        """Have the note that was just played sound once more, or still."""

    def hold(self, note: float, cv_v: float) -> None:
        """Have a note sound and stay while a trimmer is turned."""

    def relearn(self, note: float, cv_v: float) -> None:
        """After a device was away, or where notes come at another time: the note once more."""

    def window(self) -> Window:
        """When the note can be heard; only its sound lies in there."""

    def voltage_window(self) -> Window | None:
        """When its control voltage can be measured; None where nobody sends one."""

    def disturbed(self) -> bool:
        """Whether what plays has faltered since the note was played."""

    def unsettled(self) -> None:
        """A reading was still moving."""

    def turned(self, note: float, f_hz: float) -> None:
        """A trimmer was turned: by how much notes were off before no longer tells."""

    def reopen(self) -> None:
        """Take hold of what plays again after it was gone; InputError where it still is."""

    def close(self) -> None:
        """Play no more, and let go."""
