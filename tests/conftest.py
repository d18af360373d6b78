"""How the tests run: their own folders, how hard hypothesis tries, tests that need a program.

No test touches the user's folders: each test has a logbook of its own (``PITCHWRIGHT_LOGBOOK``),
and the folders that platformdirs names lie in the tests' temporary one, for the processes that a
test starts as well.

A property test needs nothing special. A fuzz test of a reader of files or tables is decorated with
``@settings.get_profile("fuzz")``, above ``@given``: few examples here, 2,000 where ``CI`` is set.

A test that needs something from script/system-packages says ``@pytest.mark.needs("sox")``. Without
it the test is skipped with the reason; with ``PITCHWRIGHT_REQUIRE=all`` it fails instead.
"""

from __future__ import annotations

import itertools
import os
import shutil
import signal
from collections.abc import Iterator
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


if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    # A shell that runs the tests in the background has Ctrl-C ignored, and what they start inherits
    # that: nothing could be stopped.
    signal.signal(signal.SIGINT, signal.default_int_handler)

_FOLDERS = ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME")  # what platformdirs goes by
_COUNT = itertools.count()


@pytest.fixture(scope="session", autouse=True)
def _no_folders_of_the_user(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    home = tmp_path_factory.mktemp("user")
    with pytest.MonkeyPatch.context() as patch:
        for name in _FOLDERS:
            patch.setenv(name, str(home / name))
        patch.delenv("PITCHWRIGHT_BENCH", raising=False)
        yield


@pytest.fixture(autouse=True)
def _a_logbook_for_each_test(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Only named here: it is made where something is written down.
    folder = tmp_path_factory.getbasetemp() / f"logbook-{next(_COUNT)}" / "pitchwright"
    monkeypatch.setenv("PITCHWRIGHT_LOGBOOK", str(folder / "logbook.sqlite"))


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
