"""Pull the plug on guided trims that write to a logbook, two hundred times at random moments.

Run ``python -m benchmarks.logbook.kills``; it writes ``KILLS.md`` beside this file. The tests run
the same program, ``tests/logbook/kills.py``, with fewer.
"""

from __future__ import annotations

import argparse
import json
import platform
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

KILLS = 200
HERE = Path(__file__).parent


def main() -> None:
    """Kill, print and write what was found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=KILLS)
    kills = parser.parse_args().kills
    program = HERE.parents[1] / "tests" / "logbook" / "kills.py"
    with tempfile.TemporaryDirectory() as folder:
        ended = subprocess.run(
            [sys.executable, str(program), str(kills), folder],
            stdout=subprocess.PIPE,
            text=True,
            check=True,
        )
    found: dict[str, Any] = json.loads(ended.stdout)
    sound = found["killed"] if not found["wrong"] else "not all: " + " ".join(found["wrong"])
    lines = [
        "# The plug pulled on guided trims",
        "",
        f"Simulated guided trims of {found['entries']} entries each, writing to a SQLite logbook, "
        "killed with signal 9 at random moments from before the file is made until after the end; "
        f"Python {platform.python_version()}, {platform.machine()}. Made by "
        "`python -m benchmarks.logbook.kills`.",
        "",
        "| what | |",
        "| --- | --- |",
        f"| killed before their end | {found['killed']} |",
        "| after which the logbook opened, its check was clean, and at most the reading in "
        f"progress was missing | {sound} |",
        f"| of these gone on with to their end, the check clean again | {found['resumed']} |",
        "",
    ]
    print("\n".join(lines))
    if kills == KILLS:
        (HERE / "KILLS.md").write_text("\n".join(lines), encoding="utf-8")


if __name__ == "__main__":
    main()
