"""Measured ceilings against predicted ones."""
