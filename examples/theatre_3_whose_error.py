"""The theatre, 3: four oscillators through two sources: whose error it is, and what settles it.

All of it is invented. Run as ``python examples/theatre_3_whose_error.py [folder for the chart]``.
"""

import sys
from pathlib import Path

from pitchwright.bench.practice_rig import RigBench
from pitchwright.bench.runner import run
from pitchwright.ensemble import Evidence, Meter, Voltage, advise, whose_error
from pitchwright.pictures.whose_chart import whose_svg
from pitchwright.practice import theatre_rig
from pitchwright.procedures import EnsembleSettings, ensemble_check

FOUR = ("Heron", "Wren", "Plover", "Dunlin")
NOTES = tuple(float(note) for note in range(24, 97, 6))


def main(folder: Path | None = None) -> None:
    """Check the rig, see what cannot be told, measure two voltages of Loft, and see again."""
    settings = EnsembleSettings(FOUR, NOTES, ("Loft", "Stairs"))
    rig = theatre_rig()
    checked = run(ensemble_check(settings), RigBench(rig), name="ensemble check", settings=settings)
    alone = Evidence(checked.sweeps, straight=("Loft", "Stairs"))
    for sentence in whose_error(alone).sentences:
        print(sentence)
    for extra in advise(alone, whose_error(alone)):
        print(f"  {extra.sentence}")
    loft = rig.source("Loft")
    measured = Evidence(
        checked.sweeps,
        tuple(Voltage("Loft", note, round(loft.cv_v(note), 4)) for note in (24.0, 96.0)),
        Meter(u_v=0.0003, u_gain=0.0003),
        straight=("Loft", "Stairs"),
    )
    found = whose_error(measured)
    print("With Loft's voltage at C1 and C7:")
    for name in ("Loft", "Stairs", *FOUR):
        own = found.figure("own", "scale", name)
        assert own.amount is not None
        assert own.u is not None
        print(f"  {name}: {own.amount:+.2f} ± {2.0 * own.u:.2f} cents per octave of its own")
    if folder is not None:
        chart = whose_svg(found, name="The theatre's modular", invented=True)
        (folder / "whose-error.svg").write_text(chart, encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
