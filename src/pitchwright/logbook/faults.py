"""What a database says when it cannot, as a sentence for a person."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError

from pitchwright.errors import InputError

__all__ = ["told"]

# What the database's own message contains, what is wrong, what to do.
_SAYINGS = (
    (
        "file is not a database",
        "This file is not a logbook",
        "Check the path; it was left as it is",
    ),
    (
        "malformed",
        "The logbook's file is damaged or cut short; it was left as it is",
        "Keep it, and go on with the newest backup (pitchwright log backup makes them)",
    ),
    ("disk is full", "The disk is full; nothing was written", "Free some space and go on"),
    (
        "disk i/o error",
        "The disk refused; nothing was written",
        "Check the disk and its free space",
    ),
    (
        "readonly",
        "The logbook, or its folder, is read-only; nothing was written",
        "Give write permission or name another with --logbook",
    ),
    (
        "locked",
        "The logbook is locked by another program",
        "Close that program, or wait, and go on",
    ),
    (
        "unable to open database file",
        "The logbook cannot be opened here",
        "Check that the folder exists and may be written, or name another with --logbook",
    ),
    (
        "connection refused",
        "The logbook's server does not answer",
        "Start it, or check host and port",
    ),
    ("password", "The logbook's server refused the user or password", "Check them"),
    ("does not exist", "The logbook's server has no such database or user", "Create it first"),
    ("translate host name", "The logbook's server cannot be found", "Check the host's name"),
    ("resolve host", "The logbook's server cannot be found", "Check the host's name"),
    (
        "closed the connection",
        "The logbook's server went away; nothing was written",
        "Start it again and go on",
    ),
)


@contextmanager
def told(where: str) -> Iterator[None]:
    """Turn what a database raises inside the block into an InputError naming ``where``."""
    try:
        yield
    except DBAPIError as fault:
        message = str(fault.orig).lower()
        for saying, what, do in _SAYINGS:
            if saying in message:
                raise InputError(what, where, do) from fault
        first = str(fault.orig).strip().partition("\n")[0]
        raise InputError(
            f"The logbook's database refuses ({first[:200]}); nothing was written",
            where,
            "See what it says, or name another logbook with --logbook",
        ) from fault
