"""Benchmarks, run by hand: `python -m tests.benchmarks`. Sizes and ratios; nothing here is a timed test."""
