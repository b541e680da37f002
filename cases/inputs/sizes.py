"""Phrases of geometry with their sizes filled in as people read them: lengths in mm, angles in deg."""

from __future__ import annotations

import math

from meltzone.geometry.errors import AngleSize, GeometryError


class _Length(float):
    def __format__(self, form: str) -> str:
        word, _, digits = form.rpartition(" ")
        if word == "micro":
            return f"{1e6 * self:{digits}} um"
        return f"{1e3 * self:{digits}}" + ("" if word == "bare" else " mm")


class _Degrees(float):
    def __format__(self, form: str) -> str:
        word, _, digits = form.rpartition(" ")
        return f"{math.degrees(self):{digits}} " + ("degrees" if word == "long" else "deg")


def expected_and_hint(error: GeometryError) -> tuple[str, str]:
    """What was expected of a dimension, and what to do about it."""
    shown = {
        name: _Degrees(size) if isinstance(size, AngleSize) else _Length(size) for name, size in error.sizes.items()
    }
    return error.expected.format(**shown), error.hint.format(**shown)
