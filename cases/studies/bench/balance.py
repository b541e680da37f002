"""What a balance and a clock leave uncertain, as the GUM reckons it, and how much must be weighed to know it well enough."""

from __future__ import annotations

import math
from dataclasses import dataclass

USUAL_RESOLUTION = 1e-5  # a pocket balance, where nothing else is said: common practice, no source [kg]
READINGS = 2  # the empty and the loaded balance


@dataclass(frozen=True)
class Balance:
    """A balance: `resolution` (last digit), `repeatability` (standard deviation of one weighing), `drift` (half-width) [kg].

    Where the repeatability is not known, one step of the last digit is assumed: common practice, no source.
    """

    resolution: float
    repeatability: float | None = None
    drift: float = 0.0

    def uncertainty(self, readings: int = READINGS) -> float:
        """Standard uncertainty of a mass found from so many `readings` [kg].

        u^2 = s^2 + drift^2 / 3 + readings (resolution / 2)^2 / 3: the drift and the rounding of each reading are
        rectangular, of variance half-width squared over 3 (JCGM 100:2008, 4.3.7).
        """
        repeatability = self.resolution if self.repeatability is None else self.repeatability
        return math.sqrt(repeatability**2 + (self.drift**2 + readings * (0.5 * self.resolution) ** 2) / 3.0)

    def least_mass(self, relative: float) -> float:
        """The mass [kg] whose weighing is uncertain by the share `relative` [-]."""
        return self.uncertainty() / relative
