"""A printed line, as a layer takes it up: its section; all lengths in metres."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class PrintedLine:
    """A line of a layer's `height` [m], `width` [m] across its whole section; no narrower than it is high."""

    height: float
    width: float

    @property
    def section(self) -> float:
        """Area of its section [m2]: a rectangle with half circles at both sides, h (w - h) + pi h^2 / 4.

        Common practice, no source: the layer below and the nozzle's face flatten it, its sides bulge freely.
        """
        return self.height * (self.width - self.height) + math.pi / 4.0 * self.height**2
