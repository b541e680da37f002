"""Verification of the solver against closed forms, published benchmarks and manufactured solutions."""
