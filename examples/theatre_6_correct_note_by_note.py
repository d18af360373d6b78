"""The theatre, 6: Dunlin's high end has no trimmer. Corrections for the converter that plays it.

All of it is invented. Run as ``python examples/theatre_6_correct_note_by_note.py [folder]``.
"""

import sys
from pathlib import Path

from pitchwright.bench.practice_rig import RigBench
from pitchwright.bench.runner import run
from pitchwright.certificate.corrections import corrections
from pitchwright.certificate.midi_tuning import bulk_dump, note_changes
from pitchwright.pictures.corrections_chart import corrections_svg
from pitchwright.practice import theatre_rig
from pitchwright.procedures import SurveySettings, survey
from pitchwright.tracking import TargetCurve


def main(folder: Path | None = None) -> None:
    """Survey Dunlin every third note, work out the corrections, and write them as SysEx."""
    settings = SurveySettings(("Dunlin",), tuple(float(note) for note in range(24, 97, 3)))
    bench = RigBench(theatre_rig(on_for_s=1e6))
    points = run(survey(settings), bench, name="survey", settings=settings)["Dunlin"]
    table = corrections(points, TargetCurve.flat())
    for sentence in table.sentences:
        print(sentence)
    dump = bulk_dump(table.pitches, "Dunlin")
    print(f"Bulk dump: {len(dump)} bytes, {dump[:8].hex(' ').upper()} …")
    print(f"Or single-note changes: {len(note_changes(table.changed))} messages.")
    if folder is not None:
        chart = corrections_svg("Dunlin", table, invented=True)
        (folder / "corrections.svg").write_text(chart, encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
