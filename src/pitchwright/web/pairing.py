"""Pairing: a one-time code lets a device in, and the device keeps a token of its own.

The code is shown to the person at the machine only. It works once and for a quarter of an hour;
after a few wrong ones no code is looked at for a while, the right one neither, and it is replaced.
Of tokens only digests are kept, so that who reads the file cannot come in with it.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import secrets
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Final

__all__ = ["Pairing"]

_LETTERS: Final = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
"""Without those that are taken for one another."""
_LENGTH: Final = 8
_CODE_S: Final = 900.0
_MOST_WRONG: Final = 5
_PAUSE_S: Final = 60.0
_TOKEN_S: Final = 30 * 86400.0
_MOST_DEVICES: Final = 50


class Pairing:
    """Who may come in from the network; safe to use from any thread.

    Parameters
    ----------
    kept
        File for the digests of paired devices, or None to forget them with the process.
    show
        Is given each new code.
    now_s
        The clock, seconds since 1970.
    """

    def __init__(
        self,
        kept: Path | None = None,
        show: Callable[[str], None] = lambda _: None,
        now_s: Callable[[], float] = time.time,
    ) -> None:
        self._kept, self._show, self._now_s = kept, show, now_s
        self._lock = threading.Lock()
        self._devices = _read(kept, now_s()) if kept is not None else {}
        self._code, self._code_since_s = "", 0.0
        self._wrong_s: list[float] = []

    @property
    def code(self) -> str:
        """The code that lets the next device in; another once it was used or is too old."""
        with self._lock:
            if not self._code or self._now_s() - self._code_since_s > _CODE_S:
                self._renew()
            return self._code

    def pair(self, code: str) -> str | None:
        """Let a device in: its token, or None where the code is wrong.

        Raises
        ------
        PermissionError
            Where too many codes were wrong of late: none is looked at.
        """
        with self._lock:
            now_s = self._now_s()
            self._wrong_s = [at_s for at_s in self._wrong_s if now_s - at_s < _PAUSE_S]
            if len(self._wrong_s) >= _MOST_WRONG:
                raise PermissionError
            if not self._code or now_s - self._code_since_s > _CODE_S:
                self._renew()
            given = "".join(letter for letter in code.upper() if letter.isalnum())
            if not hmac.compare_digest(given.encode(), self._code.encode()):
                self._wrong_s.append(now_s)
                if len(self._wrong_s) >= _MOST_WRONG:
                    self._renew()
                return None
            self._renew()
            token = secrets.token_urlsafe(32)
            self._devices[_digest(token)] = now_s
            self._keep()
            return token

    def device(self, token: str) -> str | None:
        """The name of the device that holds a token; None where it is not paired."""
        digest = _digest(token)
        with self._lock:
            since_s = self._devices.get(digest)
            if since_s is None or self._now_s() - since_s > _TOKEN_S:
                return None
        return f"device-{digest[:12]}"

    def forget_all(self) -> None:
        """Let nobody in who was paired before."""
        with self._lock:
            self._devices.clear()
            self._keep()

    def _renew(self) -> None:
        self._code = "".join(secrets.choice(_LETTERS) for _ in range(_LENGTH))
        self._code_since_s = self._now_s()
        self._show(self._code)

    def _keep(self) -> None:
        newest = sorted(self._devices.items(), key=lambda one: one[1])[-_MOST_DEVICES:]
        self._devices = dict(newest)
        if self._kept is None:
            return
        from pitchwright.writing import whole_file

        self._kept.parent.mkdir(parents=True, exist_ok=True)
        with whole_file(self._kept) as aside:
            aside.write_text(json.dumps(self._devices), encoding="utf-8")
        self._kept.chmod(0o600)


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def _read(kept: Path, now_s: float) -> dict[str, float]:
    """Who was paired before; nobody where that cannot be read: they pair again."""
    try:
        written = json.loads(kept.read_text(encoding="utf-8"))
        devices = {str(digest): float(since_s) for digest, since_s in written.items()}
    except (OSError, ValueError, TypeError, AttributeError):
        return {}
    return {digest: s for digest, s in devices.items() if 0.0 <= now_s - s < _TOKEN_S}
