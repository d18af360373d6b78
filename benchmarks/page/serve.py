"""The page on one of the benches here, in a process of its own.

``python -m benchmarks.page.serve`` prints its address, its own CPU and memory when asked for them
by a line on its input, and ends with its input.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import sys
import threading
from pathlib import Path

from benchmarks.page.benches import HeardRig, SteadyRig

from pitchwright.web.conductor import Conductor
from pitchwright.web.serving import Wanted, serve


def main() -> None:
    """Serve, begin a turn, and answer lines until there are no more."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--heard", action="store_true")
    parser.add_argument("--rate", type=float, default=20.0)
    parser.add_argument("--of-a-clock", type=float, default=1.0)
    options = parser.parse_args()
    rig = HeardRig() if options.heard else SteadyRig(options.rate, options.of_a_clock)
    conductor = Conductor(lambda: rig, logbook="none")
    threading.Thread(target=_answer, args=(rig, conductor), daemon=True).start()
    serve(Wanted(lambda: rig, open_browser=False), conductor)


def _answer(rig: SteadyRig, conductor: Conductor) -> None:
    conductor.wait_for(lambda scene: scene.connected is not None, 60.0)
    conductor.trim("benchmark", "Heron", 24.0, 84.0)
    for _ in sys.stdin:
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
        usage = resource.getrusage(resource.RUSAGE_SELF)
        figures = {
            "cpu_s": usage.ru_utime + usage.ru_stime,
            "rss_mb": pages * os.sysconf("SC_PAGE_SIZE") / 1e6,
            "readings": conductor.feed.since(0)["n"],
            "events": len(conductor.events()),
            "steps_s": getattr(rig, "steps_s", []),
        }
        sys.stdout.write(json.dumps(figures) + "\n")
        sys.stdout.flush()
    os._exit(0)


if __name__ == "__main__":
    main()
