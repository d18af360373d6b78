"""The pictures in the docs are what the tool makes."""

from __future__ import annotations

import runpy
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from PIL import Image

ROOT = Path(__file__).parents[2]
PICTURES = ROOT / "docs" / "pictures"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    runpy.run_path(str(ROOT / "examples" / "years_of_an_instrument.py"))["main"](folder)
    return folder


def words_in(path: Path) -> list[str]:
    return [
        "".join(text.itertext()) for text in ET.parse(path).iter("{http://www.w3.org/2000/svg}text")
    ]


def test_the_history_chart(made: Path) -> None:
    assert words_in(made / "history.svg") == words_in(PICTURES / "history.svg")


def test_the_certificate(made: Path) -> None:
    fresh, kept = (
        np.asarray(Image.open(folder / "certificate.png"), float) / 255.0
        for folder in (made, PICTURES)
    )
    assert fresh.shape == kept.shape
    # A stroke may fall a hair beside where another processor drew it.
    assert float(np.mean(np.abs(fresh - kept))) < 0.002
