"""The end of the demo: a trim on the practice rig, its sheet, and a certificate that says so."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from pitchwright.cli.demo import LOGBOOK, _trim


@pytest.mark.needs("poppler-utils")
def test_the_demo_ends_with_a_certificate_of_invented_data(tmp_path: Path) -> None:
    sheet, certificate = _trim(tmp_path)
    assert "as left" in sheet.read_text(encoding="utf-8")
    # Only the practice logbook is made, never the one beside which it lies.
    assert sorted(path.name for path in tmp_path.glob("*.sqlite")) == [LOGBOOK]
    ran = subprocess.run(
        ["pdftotext", "-layout", certificate, "-"], check=True, capture_output=True, timeout=60
    )
    text = " ".join(ran.stdout.decode().split())
    for words in (
        "No real instrument was measured",
        "As left, every one of the 11 notes measured from C1 to C6 is within ±1 cent.",
        "fed by trimmable output 2",
        "1 scale trimmer C6",
    ):
        assert words in text, words
