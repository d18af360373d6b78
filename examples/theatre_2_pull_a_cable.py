"""The theatre, 2: three oscillators hang on one passive splitter, and a cable is pulled.

All of it is invented. Run as ``python examples/theatre_2_pull_a_cable.py [folder for the chart]``.
"""

import sys
from pathlib import Path

from pitchwright.pictures.route_chart import route_svg
from pitchwright.route import (
    BufferedMultiple,
    Oscillator,
    PassiveMultiple,
    Patch,
    Source,
    report,
)

LOFT = Patch(
    (
        Source("Loft", output_ohm=1000.0),
        PassiveMultiple("splitter", "Loft"),
        Oscillator("Heron", "splitter", input_ohm=100_000.0),
        Oscillator("Wren", "splitter", input_ohm=100_000.0),
        Oscillator("Plover", "splitter", input_ohm=100_000.0),
        BufferedMultiple("copies", "Loft", input_ohm=100_000.0, output_ohm=1000.0),
        Oscillator("Dunlin", "copies", input_ohm=100_000.0),
    )
)


def main(folder: Path | None = None) -> None:
    """Print what every oscillator gets, what a cable changes, and what to patch instead."""
    found = report(LOFT, [float(note) for note in range(24, 97, 12)])
    for sentence in found.sentences:
        print(sentence)
    if folder is not None:
        chart = route_svg(found, name="Loft's splitter", invented=True)
        (folder / "route.svg").write_text(chart, encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
