"""Takes of the practice rig, for the commands that need one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from pitchwright.errors import InputError
from pitchwright.practice.rig import Recorder
from pitchwright.practice.scenario import theatre_rig
from pitchwright.practice.schedule import one_after_another
from pitchwright.practice.take import write_take
from pitchwright.practice.take_truth import TakeTruth
from pitchwright.tracking.align import parse_notes

__all__ = ["rehearse"]

_GAP_S = 0.1


def rehearse(
    out: Path,
    *,
    notes: str,
    only: str = "",
    source: str = "Loft",
    hold_s: float = 1.2,
    rate_hz: int = 48000,
    seed: int = 1,
    progress: Callable[[float], None] | None = None,
) -> TakeTruth:
    """Play the invented rig and write the take; the first note is played again at the end.

    Parameters
    ----------
    out
        The file to write.
    notes
        In order, as `parse_notes` reads them.
    only
        Names of the oscillators wanted, with commas; empty for all.
    source
        What plays.
    hold_s
        Seconds that each note is held, 0.2 to 60.
    rate_hz
        Sample rate, 22,050 to 192,000.
    seed
        Of all chance.
    progress
        Is given the share done.
    """
    if not 0.2 <= hold_s <= 60.0:
        raise InputError(f"A note cannot be held for {hold_s:g} seconds", "--hold", "0.2 to 60")
    if not 22_050 <= rate_hz <= 192_000:
        raise InputError(
            f"A sample rate of {rate_hz} is not used here", "--rate", "22050 to 192000"
        )
    played = parse_notes(notes)
    rig = theatre_rig()
    if only.strip():
        rig = rig.only(*(name.strip() for name in only.split(",")))
    return write_take(
        out,
        rig,
        one_after_another([*played, played[0]], length_s=hold_s, gap_s=_GAP_S),
        source=source,
        recorder=Recorder(rate_hz=rate_hz),
        seed=seed,
        progress=progress,
    )
