"""The solid filament as fed, one part of a hot end; length in metres."""

from __future__ import annotations

import math
from dataclasses import dataclass

from meltzone.geometry.lengths import require_length


@dataclass(frozen=True)
class Filament:
    """The solid filament as fed: `diameter` [m]."""

    diameter: float = 1.75e-3

    def __post_init__(self) -> None:
        require_length("polymer.filament_diameter", self.diameter)

    @property
    def area(self) -> float:
        """Its section [m2]."""
        return math.pi * self.diameter**2 / 4.0
