"""Events kept in a file of JSON lines: written as they happen, gone on from where they stop."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from pitchwright.errors import InputError
from pitchwright.procedures.events import Event
from pitchwright.writing import write_whole

__all__ = ["keeping", "kept_in"]


def keeping(events: Path | None) -> Callable[[Event], None]:
    """Return a subscriber that writes each event down; live readings are not kept."""

    def keep(event: Event) -> None:
        if events is None or event.kind == "turning":
            return
        line = json.dumps(event.to_dict(), ensure_ascii=False)
        try:
            with events.open("a", encoding="utf-8") as kept:
                kept.write(f"{line}\n")
        except OSError as fault:
            raise InputError(
                f"The events cannot be written: {fault.strerror}", str(events), "Make room"
            ) from fault

    return keep


def kept_in(events: Path | None) -> list[Event]:
    """The events that a file holds; none where there is no file.

    Raises
    ------
    InputError
        Where the file holds something else.
    """
    if events is None or not events.exists():
        return []
    try:
        lines = events.read_text(encoding="utf-8").splitlines()
        # A line that was cut short by an interruption is the reading in progress.
        whole = lines if not lines or _is_json(lines[-1]) else lines[:-1]
        earlier = [Event.from_dict(json.loads(line)) for line in whole]
    except (OSError, ValueError) as fault:
        raise InputError(
            f"This holds no events to go on from ({fault})", str(events), "Name another file"
        ) from fault
    if len(whole) < len(lines):
        write_whole(events, "".join(f"{line}\n" for line in whole))
    return earlier


def _is_json(line: str) -> bool:
    try:
        json.loads(line)
    except ValueError:
        return False
    return True
