"""Loading of a control voltage: Ohm's law, a solver that is not ours, and a book's divider.

- Table: 1 kΩ into n × 100 kΩ, from g = Rl / (Rl + n·Rs). Computed from Ohm's law; the treatment is
  a textbook's (P. Horowitz, W. Hill, *The Art of Electronics*, chapter 1; from memory).
- 5 V from 50 kΩ into 1 MΩ reads 4.76 V: read in a question-and-answer text, computed 4.7619 V.
- Random patches against series-parallel reduction by hand, and against ngspice's operating point.
"""

import re
import subprocess
from pathlib import Path

import numpy as np
import pytest

from pitchwright.route import (
    Attenuator,
    BufferedMultiple,
    Oscillator,
    Part,
    PassiveMultiple,
    Patch,
    Source,
    arrivals,
    report,
)

# Loads, gain, cents per octave, the step when the last load is added to a trimmed voice, five
# octaves.
TABLE = (
    (1, 0.9900990099, -11.881188, -11.881188, -59.405941),
    (2, 0.9803921569, -23.529412, -11.764706, -117.647059),
    (3, 0.9708737864, -34.951456, -11.650485, -174.757282),
    (4, 0.9615384615, -46.153846, -11.538462, -230.769231),
    (5, 0.9523809524, -57.142857, -11.428571, -285.714286),
    (6, 0.9433962264, -67.924528, -11.320755, -339.622642),
    (7, 0.9345794393, -78.504673, -11.214953, -392.523364),
    (8, 0.9259259259, -88.888889, -11.111111, -444.444444),
)


def loaded(loads: int) -> Patch:
    voices = tuple(Oscillator(f"voice {n}", "split", 100_000.0) for n in range(loads))
    return Patch((Source("Loft", 1_000.0), PassiveMultiple("split", "Loft"), *voices))


@pytest.mark.parametrize(("loads", "gain", "per_octave", "step", "over_five"), TABLE)
def test_the_loading_table(
    loads: int, gain: float, per_octave: float, step: float, over_five: float
) -> None:
    found = report(loaded(loads), [24, 84])
    for one in found.deliveries:
        assert one.gain == pytest.approx(gain, abs=5e-11)
        assert one.cents_per_octave == pytest.approx(per_octave, abs=5e-7)
        assert one.cents[1] - one.cents[0] == pytest.approx(over_five, abs=5e-6)
    if loads > 1:
        fewer = report(loaded(loads - 1), [24])
        added = next(change for change in fewer.added if change.what.endswith("split"))
        assert added.worst_cents_per_octave == pytest.approx(step, abs=5e-7)


def test_a_divider_from_a_book() -> None:
    patch = Patch((Source("Loft", 50_000.0), Oscillator("meter", "Loft", 1e6)))
    assert 5.0 * arrivals(patch)[0].gain == pytest.approx(4.76, abs=0.005)


def random_patch(rng: np.random.Generator) -> Patch:
    """A tree of passive and buffered parts with up to a dozen oscillators."""

    def ohm() -> float:
        return float(10.0 ** rng.uniform(1.5, 6.0))

    parts: list[Part] = [Source("s0", ohm()), Source("s1", ohm())]
    feeders = ["s0", "s1"]
    for n in range(int(rng.integers(1, 8))):
        kind, name, feed = int(rng.integers(3)), f"p{n}", feeders[int(rng.integers(len(feeders)))]
        if kind == 0:
            parts.append(PassiveMultiple(name, feed))
        elif kind == 1:
            gain, offset = float(rng.normal(0, 0.02)), float(rng.normal(0, 0.01))
            parts.append(BufferedMultiple(name, feed, ohm(), ohm(), gain, offset))
        else:
            position = 1.0 if rng.random() < 0.2 else float(rng.uniform(0.05, 0.95))
            parts.append(Attenuator(name, feed, ohm(), position))
        feeders.append(name)
    parts += [
        Oscillator(f"o{n}", feeders[int(rng.integers(len(feeders)))], ohm())
        for n in range(int(rng.integers(1, 6)))
    ]
    return Patch(tuple(parts))


class ByHand:
    """Series-parallel reduction: what a part asks for, seen from its feed, then down the tree."""

    def __init__(self, patch: Patch) -> None:
        self.patch = patch

    def load_s(self, part: Part) -> float:
        """Conductance to ground that the part puts on whatever feeds it."""
        if isinstance(part, Oscillator | BufferedMultiple):
            return 1.0 / part.input_ohm
        below = sum(self.load_s(child) for child in self.patch.fed_by(part.name))
        if isinstance(part, Attenuator):
            foot_s = 1.0 / (part.track_ohm * part.position) + below
            return 1.0 / (part.track_ohm * (1.0 - part.position) + 1.0 / foot_s)
        return below

    def at(self, name: str, open_v: float) -> float:
        """Voltage at a part's output (at an oscillator's or a buffer's input) for an open EMF."""
        part = self.patch.part(name)
        if isinstance(part, Source):
            load = sum(self.load_s(child) for child in self.patch.fed_by(name))
            return open_v / (1.0 + part.output_ohm * load)
        feed = self.patch.part(part.fed_from)
        if isinstance(feed, BufferedMultiple):
            emf = (1.0 + feed.gain_error) * self.at(feed.name, open_v) + feed.offset_v
            into = emf / (1.0 + feed.output_ohm * self.load_s(part))
        else:
            into = self.at(feed.name, open_v)
        if isinstance(part, Attenuator):
            below = sum(self.load_s(child) for child in self.patch.fed_by(name))
            foot_ohm = 1.0 / (1.0 / (part.track_ohm * part.position) + below)
            return into * foot_ohm / (foot_ohm + part.track_ohm * (1.0 - part.position))
        return into


def test_random_patches_against_series_parallel_by_hand() -> None:
    rng = np.random.default_rng(61)
    for _ in range(200):
        patch = random_patch(rng)
        hand = ByHand(patch)
        for one in arrivals(patch):
            zero = hand.at(one.oscillator, 0.0)
            assert one.offset_v == pytest.approx(zero, rel=1e-9, abs=1e-12)
            gain = hand.at(one.oscillator, 1.0) - zero
            assert one.gain == pytest.approx(gain, rel=1e-9, abs=1e-12)


def netlist(patch: Patch, open_v: float) -> str:
    """The patch for ngspice: its own nodes and its own way to solve them."""
    lines, count = ["* a patch"], 0
    node_of: dict[str, str] = {}

    def resistor(a: str, b: str, ohm: float) -> None:
        nonlocal count
        count += 1
        lines.append(f"R{count} {a} {b} {ohm!r}")

    for part in sorted(patch.parts, key=lambda part: len(patch.way_to(part.name))):
        name = part.name
        if isinstance(part, Source):
            lines.append(f"V{name} {name}_emf 0 {open_v if name == 's0' else 0.0!r}")
            resistor(f"{name}_emf", name, part.output_ohm)
            node_of[name] = name
            continue
        feed = patch.part(part.fed_from)
        into = node_of[feed.name]
        if isinstance(feed, BufferedMultiple):
            into = f"{name}_in"
            lines.append(
                f"B{name} {name}_copy 0 V={1.0 + feed.gain_error!r}*V({node_of[feed.name]})"
                f"+({feed.offset_v!r})"
            )
            resistor(f"{name}_copy", into, feed.output_ohm)
        node_of[name] = into
        if isinstance(part, Oscillator | BufferedMultiple):
            resistor(into, "0", part.input_ohm)
        if isinstance(part, Attenuator):
            wiper = f"{name}_wiper" if part.position < 1.0 else into
            if wiper != into:
                resistor(into, wiper, part.track_ohm * (1.0 - part.position))
            resistor(wiper, "0", part.track_ohm * part.position)
            node_of[name] = wiper
    lines += [".control", "set numdgt=12", "op"]
    lines += [f"print v({node_of[one.name]})" for one in patch.oscillators]
    return "\n".join([*lines, "quit", ".endc", ".end", ""])


@pytest.mark.needs("ngspice")
def test_random_patches_against_ngspice(tmp_path: Path) -> None:
    rng = np.random.default_rng(62)
    for trial in range(12):
        patch = random_patch(rng)
        file = tmp_path / f"{trial}.cir"
        file.write_text(netlist(patch, 5.0))
        said = subprocess.run(
            ["ngspice", "-b", str(file)], capture_output=True, text=True, check=False, timeout=60
        ).stdout
        volts = [float(x) for x in re.findall(r"^v\(.*\) = (\S+)", said, re.MULTILINE)]
        ours = [
            (5.0 * one.gain if one.source == "s0" else 0.0) + one.offset_v
            for one in arrivals(patch)
        ]
        assert volts == pytest.approx(ours, rel=1e-6, abs=1e-9), said
