"""``pitchwright practice run``: the stand-in's devices, its port, and the line to talk to it."""

from __future__ import annotations

import json
import sys
from typing import Any

import numpy as np

from pitchwright.bench.live.midi_ports import make_midi_in
from pitchwright.bench.live.sound_in import SoundIn
from pitchwright.bench.live.stand_in import KeysDown, StandInOnDevices
from pitchwright.practice.stand_in import StandIn
from pitchwright.practice.stand_in_orders import answer
from pitchwright.practice.stand_in_rig import rig_of

__all__ = ["stand_in"]


def stand_in(
    sound_out: str,
    *,
    voltage_in: str | None,
    voltage_channel: int,
    volts_full_scale: float,
    midi_in: str | None,
    only: str,
    voices: int,
    calm: bool,
    source: str,
    rate_hz: int,
    latency_s: float,
    seed: int,
) -> None:
    """Sound until ``quit`` is said, the input ends or Ctrl-C is pressed."""
    rig = rig_of(only, voices, calm=calm)
    stand = StandIn(rig, float(rate_hz), np.random.default_rng(seed))
    keys = KeysDown(rig.source(source))
    heard: SoundIn | None = None
    port: Any = None
    devices: StandInOnDevices | None = None
    try:
        if voltage_in is not None:
            heard = SoundIn(
                voltage_in,
                rate_hz=float(rate_hz),
                channels=(voltage_channel,),
                device_channels=max(2, voltage_channel),
                latency_s=latency_s,
            )
        if midi_in is not None:
            port = make_midi_in(midi_in, keys.message)
        devices = StandInOnDevices(
            stand,
            keys,
            sound_out,
            voltage_in=heard,
            volts_full_scale=volts_full_scale,
            rate_hz=float(rate_hz),
            latency_s=latency_s,
        )
        devices.start()
        _say(
            {
                "ready": True,
                "invented": True,
                "oscillators": {
                    voice.oscillator.name: [
                        kind.entry.called for kind in stand.trimmer_kinds(voice.oscillator.name)
                    ]
                    for voice in rig.voices
                },
            }
        )
        for line in sys.stdin:
            sys.stdout.write(answer(line, stand, keys) + "\n")
            sys.stdout.flush()
            if line.strip() == "quit":
                break
            devices.check()
    finally:
        if devices is not None:
            devices.close()
        elif heard is not None:
            heard.close()
        if port is not None:
            port.close()


def _say(content: dict[str, Any]) -> None:
    sys.stdout.write(json.dumps(content, ensure_ascii=False) + "\n")
    sys.stdout.flush()
