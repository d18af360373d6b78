"""The theatre, 5: Wren shall beat slowly with Heron. The plan, and the trim that makes it so.

All of it is invented. Run as ``python examples/theatre_5_plan_a_beat.py [folder for the chart]``.
"""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

from pitchwright.bench.practice import PracticeBench, trimmers_of
from pitchwright.bench.runner import run
from pitchwright.detune import distance, even
from pitchwright.pictures.detune_chart import detune_svg
from pitchwright.practice import theatre_rig
from pitchwright.practice.hands import Hand
from pitchwright.procedures import SurveySettings, TrimSettings, guided_trim, survey
from pitchwright.tracking import Point, TargetCurve, survey_oscillator

LOW, HIGH = 36, 72
NOTES = tuple(float(note) for note in range(LOW, HIGH + 1, 6))


def heard(bench: PracticeBench, name: str) -> tuple[Point, ...]:
    """Survey one oscillator."""
    settings = SurveySettings((name,), NOTES)
    return run(survey(settings), bench, name="survey", settings=settings)[name]


def main(folder: Path | None = None) -> None:
    """Plan on top of Heron as it is, have a simulated hand trim Wren to that, and compare."""
    plan = even(0.5, LOW, HIGH, ["Heron", "Wren"])
    for sentence in (*plan.sentences, *plan.warnings):
        print(sentence)
    rig, rng = theatre_rig(), np.random.default_rng(5)
    benches = {
        name: PracticeBench(rig.only(name).voices[0].oscillator, rig.source("Loft"), Hand(rng), rng)
        for name in ("Heron", "Wren")
    }
    heron = survey_oscillator("Heron", heard(benches["Heron"], "Heron")).curve.entries
    leader = TargetCurve.following(heron, "Heron", same_take=True)
    wanted = {
        note: leader.cents_at(note) + plan.voices[1].target(plan.notes).cents_at(note)
        for note in NOTES
    }
    settings = TrimSettings(
        "Wren",
        trimmers_of(benches["Wren"].oscillator),
        float(LOW),
        float(HIGH),
        target=TargetCurve.table(wanted, "Heron's curve and the planned beat"),
    )
    trimmed = run(guided_trim(settings), benches["Wren"], name="guided trim", settings=settings)
    print(f"Wren: {trimmed.verdict.standing.value}, after {trimmed.visits} visits.")
    wren = survey_oscillator("Wren", heard(benches["Wren"], "Wren")).curve.entries
    today = distance(plan, {"Heron": heron, "Wren": wren})
    print(today[0].sentence)
    if folder is not None:
        chart = detune_svg(plan, [replace(one) for one in today], invented=True)
        (folder / "detune.svg").write_text(chart, encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
