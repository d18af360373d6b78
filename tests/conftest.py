"""How the tests run: how hard hypothesis tries, and what becomes of tests that need a program.

A property test needs nothing special. A fuzz test of a reader of files or tables is decorated with
``@settings.get_profile("fuzz")``, above ``@given``: few examples here, 2,000 where ``CI`` is set.

A test that needs something from script/system-packages says ``@pytest.mark.needs("sox")``. Without
it the test is skipped with the reason; with ``PITCHWRIGHT_REQUIRE=all`` it fails instead.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from hypothesis import settings

SYSTEM_PACKAGES = Path(__file__).parents[1] / "script" / "system-packages"
IN_CI = os.environ.get("CI") == "true"

settings.register_profile("dev", max_examples=50, deadline=None, print_blob=True)
settings.register_profile("ci", max_examples=300, deadline=None, print_blob=True)
settings.register_profile(
    "fuzz", max_examples=2_000 if IN_CI else 100, deadline=None, print_blob=True
)
settings.load_profile("ci" if IN_CI else "dev")


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line(
        "markers", "needs(package, ...): skip, or fail where all is required, without these"
    )


def pytest_runtest_setup(item: pytest.Item) -> None:
    brings = dict(
        line.split()[:2]
        for line in SYSTEM_PACKAGES.read_text(encoding="utf-8").splitlines()
        if line.strip() and not line.startswith("#")
    )
    for mark in item.iter_markers("needs"):
        for package in mark.args:
            if package not in brings:
                pytest.fail(f"script/system-packages has no line for {package}")
            if shutil.which(brings[package]) or Path(brings[package]).exists():
                continue
            reason = f"needs {package} (apt-get install {package})"
            if os.environ.get("PITCHWRIGHT_REQUIRE") == "all":
                pytest.fail(reason)
            pytest.skip(reason)
