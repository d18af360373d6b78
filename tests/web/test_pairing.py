"""Pairing: one code, one device, few guesses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pitchwright.web.pairing import Pairing


class Clock:
    def __init__(self) -> None:
        self.now_s = 1_000_000.0

    def __call__(self) -> float:
        return self.now_s


@pytest.fixture
def clock() -> Clock:
    return Clock()


def test_a_code_lets_one_device_in_and_is_gone(clock: Clock) -> None:
    shown: list[str] = []
    pairing = Pairing(show=shown.append, now_s=clock)
    code = pairing.code
    token = pairing.pair(code)
    assert token is not None
    assert pairing.device(token) is not None
    assert pairing.pair(code) is None
    assert shown[0] == code
    assert shown[-1] == pairing.code != code


def test_a_code_may_be_written_as_people_write(clock: Clock) -> None:
    pairing = Pairing(now_s=clock)
    code = pairing.code
    assert pairing.pair(f" {code[:4].lower()}-{code[4:].lower()} ") is not None


@pytest.mark.parametrize("code", ["", "\x00", "ä" * 8, "A" * 10_000, "AAAAAAAA"])
def test_what_is_no_code_lets_nobody_in(clock: Clock, code: str) -> None:
    assert Pairing(now_s=clock).pair(code) is None


def test_after_five_wrong_codes_none_is_looked_at_for_a_minute(clock: Clock) -> None:
    pairing = Pairing(now_s=clock)
    code = pairing.code
    for _ in range(5):
        assert pairing.pair("AAAAAAAA") is None
    with pytest.raises(PermissionError):
        pairing.pair(code)
    assert pairing.code != code, "the code that was guessed at is worth nothing any more"
    with pytest.raises(PermissionError):
        pairing.pair(pairing.code)
    clock.now_s += 61.0
    assert pairing.pair(pairing.code) is not None


def test_a_guesser_gets_a_few_tries_a_minute_however_long(clock: Clock) -> None:
    pairing = Pairing(now_s=clock)
    tried = 0
    for _ in range(3600):
        clock.now_s += 1.0
        try:
            assert pairing.pair("AAAAAAAA") is None
            tried += 1
        except PermissionError:
            pass
    # 31^8 codes: at this pace a guess hits within a thousand years with a chance of 1 in 300.
    assert tried <= 5 * 60 + 5


def test_a_code_ages(clock: Clock) -> None:
    pairing = Pairing(now_s=clock)
    code = pairing.code
    clock.now_s += 901.0
    assert pairing.pair(code) is None
    assert pairing.code != code


def test_paired_devices_are_known_after_a_restart_by_digest_only(
    clock: Clock, tmp_path: Path
) -> None:
    kept = tmp_path / "state" / "paired.json"
    first = Pairing(kept, now_s=clock)
    token = first.pair(first.code)
    assert token is not None
    assert token not in kept.read_text(encoding="utf-8")
    assert kept.stat().st_mode & 0o077 == 0
    name = first.device(token)
    assert Pairing(kept, now_s=clock).device(token) == name
    clock.now_s += 31 * 86400.0
    assert Pairing(kept, now_s=clock).device(token) is None


def test_forgetting_puts_every_device_out(clock: Clock, tmp_path: Path) -> None:
    kept = tmp_path / "paired.json"
    pairing = Pairing(kept, now_s=clock)
    token = pairing.pair(pairing.code)
    assert token is not None
    pairing.forget_all()
    assert pairing.device(token) is None
    assert Pairing(kept, now_s=clock).device(token) is None


@pytest.mark.parametrize("written", ["", "[]", "{", '{"a": "b"}', "\x00", '{"a": null}'])
def test_a_garbled_file_pairs_nobody(clock: Clock, tmp_path: Path, written: str) -> None:
    kept = tmp_path / "paired.json"
    kept.write_text(written, encoding="utf-8")
    pairing = Pairing(kept, now_s=clock)
    assert pairing.device("a") is None
    assert pairing.pair(pairing.code) is not None
    assert len(json.loads(kept.read_text(encoding="utf-8"))) == 1
