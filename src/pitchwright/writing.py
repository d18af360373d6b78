"""Write a file whole or not at all: aside first, then renamed into place."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pitchwright.errors import InputError

__all__ = ["free_path", "whole_file", "write_whole"]

_WHY = {
    errno.ENOSPC: ("The disk is full", "Free some space and run it again"),
    errno.EDQUOT: ("The disk quota is used up", "Free some space and run it again"),
    errno.EACCES: ("There is no permission to write here", "Choose another folder"),
    errno.EPERM: ("There is no permission to write here", "Choose another folder"),
    errno.EROFS: ("This disk is read-only", "Choose another folder"),
    errno.ENOENT: ("The folder does not exist", "Create it or choose another"),
    errno.ENOTDIR: ("A part of this path is a file, not a folder", "Choose another folder"),
    errno.EISDIR: ("This is a folder, not a file", "Give a file name"),
    errno.ENAMETOOLONG: ("The file name is too long", "Choose a shorter one"),
    errno.EFBIG: ("The file would be larger than this disk allows", "Choose another disk"),
}


def _refused(fault: OSError, path: Path) -> InputError:
    what, do = _WHY.get(fault.errno or 0, (f"Cannot write: {fault.strerror or fault}", ""))
    return InputError(what, str(path), do)


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Give a temporary path beside ``path``; rename it into place when the block ends well.

    Whatever interrupts the block, ``path`` keeps what it held before and nothing is left beside it.

    Raises
    ------
    InputError
        Where the folder is missing, closed, full or read-only, where ``path`` is a device, or
        where it holds a logbook and what was written is none: what, where, what to do.
    """
    if path.exists() and not path.is_dir() and not path.is_file():
        raise InputError("This is a device, not a file", str(path), "Give a file name")
    try:
        if path.is_dir():
            raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
        handle, name = tempfile.mkstemp(prefix=".", suffix=path.suffix, dir=path.parent)
        os.close(handle)
    except OSError as fault:
        raise _refused(fault, path) from fault
    aside = Path(name)
    try:
        yield aside
        # mkstemp gives 0600; a written result should be as readable as any other file of the user.
        mask = os.umask(0)
        os.umask(mask)
        aside.chmod(0o666 & ~mask)
        with aside.open("rb") as written:
            os.fsync(written.fileno())
        if _is_database(path) and not _is_database(aside):
            raise InputError(
                "A logbook stands here and would be lost", str(path), "Give another file name"
            )
        aside.replace(path)
    except OSError as fault:
        raise _refused(fault, path) from fault
    finally:
        aside.unlink(missing_ok=True)


def _is_database(path: Path) -> bool:
    """Whether the file begins as every SQLite database does (sqlite.org/fileformat.html, 1.3)."""
    if not path.is_file():
        return False
    with path.open("rb") as opened:
        return opened.read(16) == b"SQLite format 3\x00"


def write_whole(path: Path, content: str | bytes) -> None:
    """Write ``content`` (text as UTF-8) to ``path`` whole or not at all; errors as `whole_file`."""
    with whole_file(path) as aside:
        aside.write_bytes(content.encode() if isinstance(content, str) else content)


def free_path(path: Path) -> Path:
    """``path`` itself, or with the first number behind its name that no file bears yet."""
    candidate, number = path, 2
    while candidate.exists():
        candidate = path.with_name(f"{path.stem}-{number}{path.suffix}")
        number += 1
    return candidate
