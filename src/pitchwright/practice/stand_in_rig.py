"""As many voices as are wanted: the theatre's, then others of the same make with other faults."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pitchwright.errors import InputError
from pitchwright.practice.noise import Noise
from pitchwright.practice.rig import Rig
from pitchwright.practice.scenario import theatre_rig

__all__ = ["rig_of"]

_MOST = 8


def rig_of(names: str = "", voices: int = 0, *, calm: bool = False) -> Rig:
    """Voices by name, with commas, or so many; the first one alone where neither is given.

    Calm ones have no jitter and do not wander: what is then read off differs from the truth by
    nobody's fault but the reader's.

    Raises
    ------
    InputError
        For a name that is not there, or more voices than a stand-in has.
    """
    whole = theatre_rig()
    if calm:
        still = [replace(v, oscillator=replace(v.oscillator, noise=Noise())) for v in whole.voices]
        whole = replace(whole, voices=tuple(still))
    if names.strip():
        return whole.only(*(name.strip() for name in names.split(",")))
    if not 0 <= voices <= _MOST:
        raise InputError(f"A stand-in has 1 to {_MOST} voices, not {voices}")
    rng = np.random.default_rng(voices)
    # The filter is noisier than what it is compared with; by number there are oscillators only.
    makes = [voice for voice in whole.voices if voice.tone is None]
    chosen = makes[: max(voices, 1)]
    for place in range(len(chosen), voices):
        make = makes[place % len(makes)]
        other = replace(
            make.oscillator,
            name=f"{make.oscillator.name} 2",
            base_error_cents=float(rng.normal(0.0, 12.0)),
            scale_error_cents_per_oct=float(rng.normal(0.0, 8.0)),
        )
        chosen.append(replace(make, oscillator=other))
    return Rig(tuple(chosen), whole.sources, whole.temperature_c)
