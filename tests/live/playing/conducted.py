"""The page's conductor on the bench of a bench file, in a process of its own, as screens use it.

``python conducted.py BENCH`` reads one call a line, as JSON: the name of a conductor's method and
what it is given; and answers each with what every screen is shown then.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from pitchwright.bench.live.bench_file import read_bench
from pitchwright.errors import PitchwrightError
from pitchwright.units import ratio_of_cents
from pitchwright.web.conductor import Conductor
from pitchwright.web.live_rig import LiveRig
from pitchwright.web.scene import Scene


def shown(scene: Scene, live: int) -> dict[str, Any]:
    """What of a scene a person would act on, as values for JSON."""
    turning, verdict = scene.turning, scene.verdict
    return {
        "phase": scene.phase.value,
        "procedure": scene.procedure,
        "connected": scene.connected is not None,
        "fault": scene.fault,
        "surveyed": {
            one.oscillator: [[p.note, p.f_hz, p.kept] for p in one.points] for one in scene.surveyed
        },
        "readings": len(scene.readings),
        "live": live,
        "turn": turning and [turning.visit, turning.turn],
        "trimmer": turning and turning.trimmer,
        "aim_hz": turning and turning.tuned_hz * ratio_of_cents(turning.aim_cents),
        "verdict": verdict and verdict.standing.value,
        "answer": scene.question and scene.question.default,
        "forecasts": [one.oscillator for one in scene.forecasts],
    }


def main() -> None:
    """Answer lines until there are no more."""
    described = read_bench(Path(sys.argv[1]))
    conductor = Conductor(lambda: LiveRig(described), logbook="none", output_allowed=True)
    conductor.join("phone", "phone")
    conductor.open()
    for line in sys.stdin:
        name, *given = json.loads(line)
        refused = ""
        try:
            if name != "look":
                getattr(conductor, name)("phone", *given)
        except PitchwrightError as said:
            refused = said.sentence
        answer = shown(conductor.scene, conductor.feed.since(0)["n"]) | {"refused": refused}
        sys.stdout.write(json.dumps(answer) + "\n")
        sys.stdout.flush()
    conductor.close()


if __name__ == "__main__":
    main()
