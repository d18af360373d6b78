"""One careful reading: a sawtooth of exactly 110 Hz in some noise, half a second long."""

import numpy as np

from pitchwright.pitch import read
from pitchwright.units import cents_between, note_name, note_of_hz

RATE_HZ = 48_000
TRUE_HZ = 110.0

t_s = np.arange(RATE_HZ // 2) / RATE_HZ
harmonics = np.arange(1, 150)[:, np.newaxis]
saw = (np.sin(2.0 * np.pi * harmonics * TRUE_HZ * t_s) / harmonics).sum(axis=0)
noise = np.random.default_rng(1).normal(0.0, 0.01, t_s.size)

reading = read((0.3 * saw + noise).astype(np.float32), RATE_HZ)

if reading.f_hz is None:
    print("No pitch:", *(flag.reason for flag in reading.flags))
else:
    off_cents = cents_between(reading.f_hz, TRUE_HZ)
    print(f"{reading.f_hz:.5f} Hz, which is {note_name(note_of_hz(reading.f_hz))}")
    print(f"{off_cents:+.4f} cents from the truth, stated ± {2.0 * reading.u_cents:.4f} (k = 2)")
