"""Forecasts of simulated warm-ups against their truth, and the cost of a day's log.

Run with ``python -m benchmarks.warmup``; see ``--help``.
"""
