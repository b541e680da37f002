"""Least squares, profiles, resampling, broken lines: numbers from numbers, no cases."""
