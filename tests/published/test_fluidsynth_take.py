"""A take played by a synthesizer that is not ours.

Source: FluidSynth 2 with the sound font FluidR3 GM, program 81 (square lead), which is one sample
played faster or slower, so that the interval between any two keys is what FluidSynth makes of
equal temperament and of the pitch bend: MIDI 1.0 Detailed Specification, pitch bend 14 bit about
2000H, 200 cents either way unless set otherwise. FluidSynth drops
fractions of a cent, so that what sounds is a whole number of cents, at most one below.
"""

from __future__ import annotations

import subprocess
from pathlib import Path

import numpy as np
import pytest

from pitchwright.bench.take import hear_take
from pitchwright.units import cents_between, note_to_hz

SOUND_FONT = "/usr/share/sounds/sf2/FluidR3_GM.sf2"
SQUARE_LEAD = 80
NOTES = (60, 36, 42, 48, 48, 84, 72, 96, 90, 66, 60)
BENDS_CENTS = (0, 25, -50, 0, 50, 0, -25, 40, 0, -40, 0)
TICKS_PER_S = 960


def after(ticks: int) -> bytes:
    """A delta time as the standard MIDI file writes it: seven bits a byte, most first."""
    count = [ticks & 0x7F]
    while ticks := ticks >> 7:
        count.insert(0, (ticks & 0x7F) | 0x80)
    return bytes(count)


def midi_file(length_s: float, gap_s: float) -> bytes:
    track = after(0) + bytes([0xC0, SQUARE_LEAD])
    for note, cents in zip(NOTES, BENDS_CENTS, strict=True):
        bend = 0x2000 + round(cents / 200 * 0x2000)
        track += after(round(gap_s * TICKS_PER_S)) + bytes([0xE0, bend & 0x7F, bend >> 7])
        track += after(0) + bytes([0x90, note, 100])
        track += after(round(length_s * TICKS_PER_S)) + bytes([0x80, note, 0])
    track += after(TICKS_PER_S) + b"\xff\x2f\x00"
    # Format 0, one track, 480 ticks a quarter; 120 quarters a minute unless said otherwise.
    head = b"MThd" + (6).to_bytes(4, "big") + bytes([0, 0, 0, 1, 0x01, 0xE0])
    return head + b"MTrk" + len(track).to_bytes(4, "big") + track


@pytest.mark.needs("fluidsynth", "fluid-soundfont-gm")
def test_every_key_and_bend_is_heard(tmp_path: Path) -> None:
    score, path = tmp_path / "score.mid", tmp_path / "take.wav"
    score.write_bytes(midi_file(1.2, 0.3))
    command = ["fluidsynth", "-ni", "-R", "0", "-C", "0", "-r", "48000", "-O", "float", "-T", "wav"]
    subprocess.run([*command, "-F", path, SOUND_FONT, score], check=True, capture_output=True)
    left, right = hear_take(path, notes=NOTES).channels
    for channel in (left, right):
        assert [heard.note for heard in channel.notes if heard.kept] == list(NOTES)
        off_cents = np.array(
            [cents_between(p.f_hz, note_to_hz(p.note)) for p in channel.points() if p.kept]
        )
        # The sample, a stereo pair tuned apart, has its own tuning in all of them alike.
        bent = off_cents - off_cents[0]
        np.testing.assert_allclose(bent, np.round(bent), atol=0.01)
        below = np.array(BENDS_CENTS) - np.round(bent)
        assert set(below) <= {0.0, 1.0}
        assert abs(off_cents[0]) < 15.0
