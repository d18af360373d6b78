"""Benches with known truth: whose error, steps, advice; and what assignment and tables cost."""
