"""The theatre, 4: all oscillators together: who beats with whom, who leads, who is fed from what.

All of it is invented. Run as ``python examples/theatre_4_at_a_glance.py [folder for the chart]``.
"""

import sys
from pathlib import Path

from pitchwright.bench.practice_rig import RigBench
from pitchwright.bench.runner import run
from pitchwright.ensemble import Output, Player, assign, order
from pitchwright.pictures.ensemble_chart import ensemble_svg
from pitchwright.practice import theatre_rig
from pitchwright.procedures import EnsembleSettings, ensemble_check
from pitchwright.tracking import TargetCurve, survey_oscillator

OUTPUTS = (Output("A", -25.0, 25.0), Output("B", -25.0, 25.0))


def main(folder: Path | None = None) -> None:
    """Check the rig through Loft, hand out two trimmable outputs, and put it all in order."""
    settings = EnsembleSettings(
        ("Heron", "Wren", "Plover", "Dunlin"),
        tuple(float(note) for note in range(24, 97, 6)),
        ("Loft",),
    )
    checked = run(
        ensemble_check(settings),
        RigBench(theatre_rig()),
        name="ensemble check",
        settings=settings,
    )
    for sentence in checked.glance.sentences:
        print(sentence)
    curves = {
        sweep.oscillator: survey_oscillator(
            sweep.oscillator, sweep.points, target=TargetCurve.flat()
        ).curve.entries
        for sweep in checked.sweeps
    }
    feeds = assign([Player(name, curve) for name, curve in curves.items()], OUTPUTS, 1.0)
    for feed in feeds:
        print(feed.sentence)
    for place, turn in enumerate(order(feeds, OUTPUTS, checked.glance.leader, checked.whose), 1):
        print(f"{place}. {turn.sentence}")
    if folder is not None:
        chart = ensemble_svg("The theatre's modular", curves, checked.glance, invented=True)
        (folder / "ensemble.svg").write_text(chart, encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
