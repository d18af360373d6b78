"""Nothing that was written down is lost, whenever the plug is pulled.

Eight kills here; ``python -m benchmarks.logbook.kills`` makes two hundred by the same program.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

KILLS = 8


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_a_trim_killed_at_any_moment_loses_the_reading_in_progress_at_most() -> None:
    program = Path(__file__).with_name("kills.py")
    # What was given to the system outlives a killed process on a memory file as on a disk, and a
    # busy disk takes three times as long.
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else None) as folder:
        ended = subprocess.run(
            [sys.executable, str(program), str(KILLS), folder],
            env={**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"},
            capture_output=True,
            text=True,
            timeout=600,
            check=False,
        )
    assert ended.returncode == 0, ended.stderr
    found = json.loads(ended.stdout)
    assert found["wrong"] == []
    assert found["killed"] == KILLS
    assert found["resumed"] > 0
    assert found["entries"] > 50
