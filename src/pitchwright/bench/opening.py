"""Open a file that someone named, or say in a sentence why it cannot be."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from pitchwright.errors import InputError

__all__ = ["opened"]


@contextmanager
def opened(path: str | os.PathLike[str]) -> Iterator[BinaryIO]:
    """Open an ordinary file for reading bytes; what goes wrong while it is read is said too.

    Raises
    ------
    InputError
        Where there is no such file, it is a folder or a device, or it may not be read.
    """
    where = os.fspath(path)
    try:
        # Looked at before it is opened: opening a pipe would wait for a writer.
        mode = Path(path).stat().st_mode
        if stat.S_ISDIR(mode):
            raise InputError("This is a folder, not a file", where, "Name a file in it")
        if not stat.S_ISREG(mode):
            raise InputError("This is not an ordinary file", where, "Name a file")
        with Path(path).open("rb") as raw:
            yield raw
    except FileNotFoundError as fault:
        raise InputError("There is no such file", where, "Check the name and the folder") from fault
    except PermissionError as fault:
        raise InputError(
            "There is no permission to read this file", where, "Change its permissions or copy it"
        ) from fault
    except OSError as fault:
        raise InputError(
            f"The file cannot be opened ({fault.strerror or fault})", where[:200]
        ) from fault
    except ValueError as fault:
        if "\0" not in where:
            raise
        raise InputError("This is not a file name", where.replace("\0", "")[:200]) from fault
