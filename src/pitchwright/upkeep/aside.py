"""What the logbook cannot take, kept beside it in a file that it can take in later."""

from __future__ import annotations

import os
from pathlib import Path

from pitchwright.logbook.entries import Entry
from pitchwright.logbook.lines import entry_line, head_line

__all__ = ["Aside"]


class Aside:
    """A file of entries that ``pitchwright log import`` takes in; made with its first entry.

    Parameters
    ----------
    path
        Where; nothing that is there already is touched, only added to.
    """

    def __init__(self, path: Path) -> None:
        self.path = path

    def add(self, written: Entry) -> None:
        """Write one entry down, on the disk before this returns.

        Raises
        ------
        OSError
            Where it cannot be written.
        """
        with self.path.open("a", encoding="utf-8", newline="\n") as lines:
            if lines.tell() == 0:
                lines.write(head_line())
            lines.write(entry_line(written))
            lines.flush()
            os.fsync(lines.fileno())
