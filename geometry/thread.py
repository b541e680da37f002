"""The ISO metric screw thread: radii, flank area in a joint, developed area of an exposed length."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from meltzone.geometry.errors import GeometryError

HALF_ANGLE = math.radians(30.0)


@dataclass(frozen=True)
class MetricThread:
    """ISO metric thread by nominal `diameter` [m] and `pitch` [m]; basic profile of ISO 68-1 and ISO 724.

    With H = (sqrt(3)/2) P: d2 = d - (3/4) H, d3 = d - (17/12) H, engaged flank depth (5/8) H.
    """

    diameter: float
    pitch: float

    def __post_init__(self) -> None:
        if not 0.1e-3 <= self.pitch <= 6e-3:
            raise GeometryError(
                "nozzle.thread_pitch",
                self.pitch,
                "{least:g} to {most:g}",
                "M6 has a pitch of {usual:g}.",
                least=0.1e-3,
                most=6e-3,
                usual=1e-3,
            )
        if self.diameter < 4.0 * self.pitch:
            raise GeometryError(
                "nozzle.thread_diameter",
                self.diameter,
                "at least four pitches, {least:g}",
                "Give the nominal diameter, {usual:g} for M6.",
                least=4.0 * self.pitch,
                usual=6e-3,
            )

    @property
    def triangle_height(self) -> float:
        """Height H of the fundamental triangle [m]."""
        return math.sqrt(3.0) / 2.0 * self.pitch

    @property
    def crest_radius(self) -> float:
        """Half the nominal diameter d [m]."""
        return self.diameter / 2.0

    @property
    def pitch_radius(self) -> float:
        """Half the pitch diameter d2 [m]."""
        return self.diameter / 2.0 - 3.0 / 8.0 * self.triangle_height

    @property
    def root_radius(self) -> float:
        """Half the minor diameter d3 of the screw [m]."""
        return self.diameter / 2.0 - 17.0 / 24.0 * self.triangle_height

    @property
    def flank_area_ratio(self) -> float:
        """Area of both engaged flanks over that of the pitch cylinder, 1.25 for every metric thread [-]."""
        engaged_depth = 5.0 / 8.0 * self.triangle_height
        return 2.0 * engaged_depth / math.cos(HALF_ANGLE) / self.pitch

    @property
    def envelope_share(self) -> float:
        """Area of the cylinder through the crests over the developed area, 0.65 for M6 x 1 [-]."""
        return self.crest_radius / self.pitch_radius / self.exposed_area_ratio

    def profile(self) -> tuple[np.ndarray, np.ndarray]:
        """One pitch of the exposed screw, as (axial position, radius), each of shape (6,) [m].

        Starts and ends in the middle of a root: root flat, flank, crest flat (P/8), flank, root flat.
        """
        depth = self.crest_radius - self.root_radius
        flank = depth * math.tan(HALF_ANGLE)
        crest = self.pitch / 8.0
        root = self.pitch - crest - 2.0 * flank
        steps = np.array([0.0, root / 2.0, flank, crest, flank, root / 2.0])
        radii = np.array([0.0, 0.0, depth, depth, 0.0, 0.0]) + self.root_radius
        return np.cumsum(steps), radii

    @property
    def exposed_area_ratio(self) -> float:
        """Developed area of an exposed length over that of its pitch cylinder, 1.72 for M6 x 1 [-]."""
        z, r = self.profile()
        slant = np.hypot(np.diff(z), np.diff(r))
        area = np.sum(slant * (r[1:] + r[:-1]))
        return float(area / (2.0 * self.pitch_radius * self.pitch))
