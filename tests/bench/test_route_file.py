"""A route in TOML: read, or refused with the line and the field."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pitchwright.bench.route_file import read_route
from pitchwright.errors import InputError
from pitchwright.route import Attenuator, BufferedMultiple, Oscillator, PassiveMultiple, Source

WHOLE = """
note_at_0_v = "C1"

[source.Loft]
output_ohm = 1000
gain_error_percent = 0.5
step_error_mv = { G3 = 2.0 }

[multiple.split]
kind = "passive"
from = "Loft"

[multiple.copies]
kind = "buffered"
from = "split"
input_ohm = 100000
output_ohm = 330
offset_mv = 1.5

[attenuator.half]
from = "copies"
track_ohm = 50000
position = 0.5

[oscillator.Heron]
from = "half"
input_ohm = 100000
"""


def written(folder: Path, text: str) -> Path:
    path = folder / "route.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_everything_that_may_stand_in_it(tmp_path: Path) -> None:
    named = 'name = "a loft"\ninvented = true\n'
    route = read_route(written(tmp_path, named + WHOLE))
    assert (route.name, route.invented) == ("a loft", True)
    patch = route.patch
    assert patch.note_at_0_v == 24.0
    assert patch.parts == (
        Source("Loft", 1000.0, 0.005, 0.0, {55: 0.002}),
        PassiveMultiple("split", "Loft"),
        BufferedMultiple("copies", "split", 100_000.0, 330.0, 0.0, 0.0015),
        Attenuator("half", "copies", 50_000.0, 0.5),
        Oscillator("Heron", "half", 100_000.0),
    )


@pytest.mark.parametrize(
    ("before", "after", "says"),
    [
        ("output_ohm = 1000\n", 'output_ohm = "much"\n', r"line 5, source.Loft.output_ohm: A num"),
        ("output_ohm = 1000\n", "", r"line 4, source.Loft.output_ohm: The field is missing"),
        ("output_ohm = 1000\n", "output_ohm = nan\n", r"line 5, .*must be finite"),
        ("position", "place", r"line 23, attenuator.half.place: There is no field of this name"),
        ('"passive"', '"magic"', r"line 10, multiple.split.kind: It should be 'passive' or 'buff"),
        ('"C1"', '"H7"', r"line 2, note_at_0_v: “H7” is not a note"),
        ("G3 = 2.0", "H3 = 2.0", r"source Loft, step_error_mv: “H3” is not a note"),
        ("output_ohm = 330\n", "", r"multiple copies: A buffered multiple needs"),
        ('"passive"\n', '"passive"\ninput_ohm = 5\n', r"split: A passive multiple has no input_oh"),
        (
            "input_ohm = 100000\n\n",
            "input_ohm = -1\n",
            r"oscillator Heron, input_ohm: An imped.*-1",
        ),
        ('from = "half"', 'from = "Attic"', r"oscillator Heron, from: There is no part called"),
        ('from = "Loft"', 'from = "half"', r"loop: split is fed from half is fed from copies"),
        ("[source.Loft]", "[source.Loft", r"line 4: This is not TOML"),
    ],
)
def test_faults_are_named_with_their_place(
    tmp_path: Path, before: str, after: str, says: str
) -> None:
    text = WHOLE + "\n"
    assert before in text
    path = written(tmp_path, text.replace(before, after))
    with pytest.raises(InputError, match=says) as refused:
        read_route(path)
    assert "route.toml" in refused.value.sentence


def test_files_that_are_none(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        read_route(tmp_path / "missing.toml")
    (tmp_path / "latin.toml").write_bytes(b"[source.L\xf6ft]\n")
    with pytest.raises(InputError, match="line 1: The description is not UTF-8"):
        read_route(tmp_path / "latin.toml")
    (tmp_path / "large.toml").write_bytes(b"#" * 1_000_002)
    with pytest.raises(InputError, match="larger than 1 MB"):
        read_route(tmp_path / "large.toml")


@settings.get_profile("fuzz")
@given(
    text=st.one_of(
        st.text(),
        st.lists(
            st.sampled_from([*WHOLE.splitlines(), "x = [[", "[a.b]", 'from = "Heron"', "= 3"]),
            max_size=30,
        ).map("\n".join),
    )
)
def test_whatever_is_written_is_read_or_refused(
    tmp_path_factory: pytest.TempPathFactory, text: str
) -> None:
    path = tmp_path_factory.getbasetemp() / "fuzzed.toml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    try:
        patch = read_route(path).patch
    except InputError as refused:
        assert "fuzzed.toml" in refused.sentence  # noqa: PT017
    else:
        assert patch.oscillators
