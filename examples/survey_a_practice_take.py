"""A take of one simulated oscillator, surveyed, and what was found set beside the truth."""

from pathlib import Path
from tempfile import TemporaryDirectory

from pitchwright.bench.take import hear_take
from pitchwright.practice import one_after_another, theatre_rig, write_take
from pitchwright.tracking import survey_oscillator

NOTES = (60, 24, 36, 48, 60, 72, 84, 96, 108, 60)  # middle C comes again, to tell drift

with TemporaryDirectory() as folder:
    path = Path(folder) / "wren.wav"
    truth = write_take(path, theatre_rig().only("Wren"), one_after_another(NOTES), seed=1)
    take = hear_take(path, notes=NOTES, names=["Wren"])

(channel,) = take.channels
survey = survey_oscillator(channel.name, channel.points())
model, true = survey.model, truth.oscillators[0].model

print(survey.headline)
for term, really in (
    (model.base, true.base_cents),
    (model.scale, true.scale_cents_per_oct),
    (model.high, true.high_ns),
):
    found = "not determined" if term.value is None or term.u is None else f"{term.value:+.2f}"
    print(f"{term.name}: found {found}, truly {really:+.2f}")
for sentence in survey.advice:
    print(sentence)
