"""What moves others comes before what it moves."""

from pitchwright.ensemble import Feed, Output, Whose, order
from pitchwright.ensemble.whose import Figure


def feed(name: str, output: str = "", left: float = 0.1, *, within: bool = True) -> Feed:
    return Feed(name, output, 2.0 if output else 0.0, 0.0, 0.0, left, 0.05, 60.0, within, "")


def whose(amount: float | None, u: float | None) -> Whose:
    figure = Figure("own", "scale", ("Loft",), amount, u)
    return Whose((), ("Heron",), ("Loft",), (figure,), (), (), (), 0.0, ())


FEEDS = [feed("Wren", "two", 0.4), feed("Plover", "", 3.0, within=False), feed("Heron", "one")]
OUTPUTS = [Output("one", -5, 5), Output("two", -5, 5), Output("three", -5, 5, ("Heron", "Wren"))]


def test_source_shared_output_leader_followers() -> None:
    turns = order(FEEDS, OUTPUTS, "Heron", whose(-6.0, 0.2))
    assert [(turn.kind, turn.name) for turn in turns] == [
        ("source", "Loft"),
        ("shared output", "three"),
        ("output", "one"),
        ("leader", "Heron"),
        ("output", "two"),
        ("follower", "Wren"),
        ("follower", "Plover"),
    ]
    assert "6.0 cents per octave wider" in turns[0].sentence
    assert "expect 3.0 cents to be left" in turns[-1].sentence


def test_a_source_that_is_right_is_left_alone_and_an_unknown_one_is_measured() -> None:
    assert order(FEEDS, [], "Heron", whose(0.1, 0.1))[0].kind == "output"
    assert order(FEEDS, [], "Heron", whose(None, None))[0].kind == "measure"
    assert order(FEEDS, [], "Heron")[0].kind == "output"
