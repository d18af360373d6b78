"""Accuracy, honesty and cost of the reading, on additive tones whose frequency is exact.

Run with ``python -m benchmarks.pitch``; see ``--help``.
"""
