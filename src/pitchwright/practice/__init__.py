"""The practice rig: simulated converters, cores, trimmers and hands, for practice and tests.

Physics in, frequencies and sound out; what a measurement should find comes out of the parts.
"""

from pitchwright.practice.converter import Converter
from pitchwright.practice.core import Core
from pitchwright.practice.noise import FrequencyNoise, Noise
from pitchwright.practice.oscillator import Oscillator
from pitchwright.practice.trimmers import Trimmer, TrimmerKind
from pitchwright.practice.warmup import WarmUp

__all__ = [
    "Converter",
    "Core",
    "FrequencyNoise",
    "Noise",
    "Oscillator",
    "Trimmer",
    "TrimmerKind",
    "WarmUp",
]
