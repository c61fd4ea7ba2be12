"""Figures, each measured beside its peer in one run: ``python -m benchmarks [name ...]``."""
