"""The check that every length of a part passes: finite, and neither lost nor in the wrong unit."""

from __future__ import annotations

import math

from meltzone.geometry.errors import GeometryError

SAME = 1e-8  # two levels or radii closer than 10 nm are one [m]
LARGEST = 0.5  # a hot end has no dimension above half a metre: a larger number is a slip of the unit


def require_length(key: str, value: float, least: float = 1e-6) -> None:
    """Raises GeometryError for `key` unless `value` [m] lies between `least` [m] and the largest dimension there is."""
    if not (math.isfinite(value) and least <= value <= LARGEST):
        raise GeometryError(
            key,
            value,
            "a length from {least:g} to {largest:g}",
            "Check the number and its unit.",
            least=least,
            largest=LARGEST,
        )
