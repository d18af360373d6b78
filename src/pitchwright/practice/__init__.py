"""The practice rig: simulated converters, cores, trimmers and hands, for practice and tests.

Physics in, frequencies and sound out; what a measurement should find comes out of the parts.
"""

from pitchwright.practice.converter import Converter
from pitchwright.practice.core import Core
from pitchwright.practice.filter import FilterTone
from pitchwright.practice.noise import FrequencyNoise, Noise
from pitchwright.practice.oscillator import Oscillator
from pitchwright.practice.rig import Recorder, Rig, Voice
from pitchwright.practice.scenario import theatre_rig
from pitchwright.practice.schedule import PlayedNote, one_after_another
from pitchwright.practice.source import CvSource, step_errors_v
from pitchwright.practice.take import write_take
from pitchwright.practice.take_truth import NoteTruth, OscillatorTruth, TakeTruth, truth_path
from pitchwright.practice.trimmers import Trimmer
from pitchwright.practice.truth import TrueModel, true_model
from pitchwright.practice.warmup import WarmUp
from pitchwright.practice.waveforms import Waveform, WaveformKind
from pitchwright.trim.kinds import TrimmerKind

__all__ = [
    "Converter",
    "Core",
    "CvSource",
    "FilterTone",
    "FrequencyNoise",
    "Noise",
    "NoteTruth",
    "Oscillator",
    "OscillatorTruth",
    "PlayedNote",
    "Recorder",
    "Rig",
    "TakeTruth",
    "Trimmer",
    "TrimmerKind",
    "TrueModel",
    "Voice",
    "WarmUp",
    "Waveform",
    "WaveformKind",
    "one_after_another",
    "step_errors_v",
    "theatre_rig",
    "true_model",
    "truth_path",
    "write_take",
]
