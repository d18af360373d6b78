"""An instrument in TOML: read with its surveys, or refused with the line and the field."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pitchwright.bench.instrument_file import read_instrument
from pitchwright.errors import InputError
from pitchwright.units import note_to_hz

WHOLE = """
name = "a pit"
invented = true
tolerance_cents = 2.0

[[survey]]
source = "Loft"
oscillator = "Heron"
table = "heron.csv"

[[survey]]
source = "Stairs"
oscillator = "Heron"
table = "heron.csv"

[source.Loft]
straight = true

[meter]
u_mv = 0.5
u_gain_percent = 0.1

[[voltage]]
source = "Loft"
note = "C1"
cv_v = 0.0012

[known.Heron]
scale_cents_per_oct = 1.2
u_scale_cents_per_oct = 0.1

[output.A]
low_cents_per_oct = -25.0
high_cents_per_oct = 25.0
feeds = ["Heron"]

[trimmer.Heron]
low_cents_per_oct = -10.0
high_cents_per_oct = 10.0
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("instrument")
    rows = [f"{n},{note_to_hz(n):.6f}" for n in range(24, 97, 12)]
    (made / "heron.csv").write_text("\n".join(["note,f_hz", *rows]))
    return made


def written(folder: Path, text: str) -> Path:
    path = folder / "pit.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_everything_that_may_stand_in_it(folder: Path) -> None:
    told: list[float] = []
    found = read_instrument(written(folder, WHOLE), told.append)
    assert (found.name, found.invented, found.tolerance_cents, found.a4_hz) == (
        "a pit",
        True,
        2.0,
        440.0,
    )
    evidence = found.evidence
    assert [(sweep.oscillator, sweep.source) for sweep in evidence.sweeps] == [
        ("Heron", "Loft"),
        ("Heron", "Stairs"),
    ]
    assert len(evidence.sweeps[0].points) == 7
    assert (evidence.meter.u_v, evidence.meter.u_gain) == (0.0005, 0.001)
    assert [(v.source, v.note, v.cv_v) for v in evidence.voltages] == [("Loft", 24.0, 0.0012)]
    assert [(k.name, k.scale_cents_per_oct, k.u_scale) for k in evidence.known] == [
        ("Heron", 1.2, 0.1)
    ]
    assert evidence.straight == ("Loft",)
    assert [(o.name, o.low_cents_per_oct, o.feeds) for o in found.outputs] == [
        ("A", -25.0, ("Heron",))
    ]
    assert found.own_trims == {"Heron": (-10.0, 10.0)}
    assert told == [0.5, 1.0]


@pytest.mark.parametrize(
    ("before", "after", "says"),
    [
        ('source = "Loft"\noscillator', "oscillator", r"survey.1.source: The field is missing"),
        ('table = "heron.csv"', 'table = "wren.csv"', r"wren.csv: There is no such file"),
        ('table = "heron.csv"', 'sheet = "heron.csv"', r"survey.1.sheet: There is no field"),
        ('table = "heron.csv"', "", r"survey.1: A survey is either a table or a take"),
        ('oscillator = "Heron"\n', "", r"survey.1: A table does not say whose it is"),
        ("tolerance_cents = 2.0", "tolerance_cents = 0", r"line 4, tolerance_cents"),
        ("u_mv = 0.5", "u_mv = -1.0", r"meter: A meter that reads to -0.001 V cannot be"),
        ("u_mv = 0.5", 'u_mv = "small"', r"meter.u_mv: A number is needed, not “small”"),
        ('note = "C1"', 'note = "H1"', r"voltage.1.note: “H1” is not a note"),
        ("u_scale_cents_per_oct = 0.1", "u_scale_cents_per_oct = 0.0", r"An uncertainty of 0"),
        (
            "low_cents_per_oct = -25.0",
            "low_cents_per_oct = 30.0",
            r"output A: A trim from 30 to 25",
        ),
        ("[trimmer.Heron]", "[trimmer.Robin]", r"trimmer.Robin: No survey has an oscillator"),
        ("[meter]", "[meter", r"This is not TOML"),
        ("[[survey]]", "[[surveys]]", r"surveys: There is no field of this name"),
    ],
)
def test_faults_are_named_with_their_place(
    folder: Path, before: str, after: str, says: str
) -> None:
    assert before in WHOLE
    path = written(folder, WHOLE.replace(before, after))
    with pytest.raises(InputError, match=says):
        read_instrument(path)


@settings.get_profile("fuzz")
@given(
    text=st.one_of(
        st.text(max_size=300),
        st.lists(
            st.sampled_from(
                [*WHOLE.splitlines(), "x = [[", "[a.b]", 'take = "x.wav"', "= 3", "[[voltage]]"]
            ),
            max_size=40,
        ).map("\n".join),
    )
)
def test_whatever_is_written_is_read_or_refused(folder: Path, text: str) -> None:
    path = folder / "fuzzed.toml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    sentence = ""
    try:
        assert read_instrument(path).evidence.sweeps
    except InputError as refused:
        sentence = refused.sentence
    assert "\n" not in sentence
