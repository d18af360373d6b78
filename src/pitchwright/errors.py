"""The exception family: every error is a sentence saying what was wrong, where, and what to do."""

from __future__ import annotations

from typing import Literal

__all__ = ["InputError", "InternalError", "PitchwrightError"]


class PitchwrightError(Exception):
    """Anything pitchwright refuses to do, as one sentence for a person.

    Parameters
    ----------
    what
        What was wrong, with a capital and without a full stop.
    where
        The file, channel, line, field or device it was found in; may be empty.
    do
        What the person can do about it; may be empty.
    """

    exit_code: Literal[1, 2] = 2

    def __init__(self, what: str, where: str = "", do: str = "") -> None:
        self.what, self.where, self.do = what, where, do
        super().__init__(self.sentence)

    @property
    def sentence(self) -> str:
        """The whole message on one line: what, where, what to do."""
        text = f"{self.where}: {self.what}" if self.where else self.what
        text = f"{text.rstrip('.')}."
        if self.do:
            text += f" {self.do.rstrip('.')}."
        return " ".join(text.split())


class InputError(PitchwrightError):
    """What was given cannot be used: a file, a table, an option, an answer (exit code 2)."""


class InternalError(PitchwrightError):
    """The program itself is at fault (exit code 1)."""

    exit_code = 1
