"""A cap of insulation round the cone and the hexagon of the nozzle; all lengths in metres."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from meltzone.geometry.errors import GeometryError
from meltzone.geometry.lengths import require_length
from meltzone.geometry.outer import Measures, Orientation, OuterPart, Ring, Site

LEAST = 0.1e-3  # of the cone that it covers [m]


@dataclass(frozen=True)
class NozzleCover(OuterPart):
    """A round cap on the nozzle up to the hexagon's upper face, `thickness` beyond the hexagon; lengths in [m].

    The nozzle's tip stands out of it by `clearance`.
    """

    part: ClassVar[str] = "nozzle cover"
    contacts: ClassVar[tuple[str, ...]] = ("nozzle cover",)

    thickness: float = 2e-3
    clearance: float = 0.5e-3

    def __post_init__(self) -> None:
        require_length("nozzle_cover.thickness", self.thickness, least=1e-5)
        require_length("nozzle_cover.clearance", self.clearance)

    def check(self, site: Site) -> None:
        """Raises GeometryError unless it begins on the tip cone, and where a wrap covers the nozzle already."""
        if "nozzle" in site.wrapped:
            expected = 'none beside "nozzle" in wrap.covers'
            raise GeometryError("nozzle_cover.thickness", self.thickness, expected, "Both would cover the hexagon.")
        cone = site.nozzle.tip_cone_height
        if self.clearance > cone - LEAST:
            raise GeometryError(
                "nozzle_cover.clearance",
                self.clearance,
                "at least {least:g} less than the tip cone's height of {cone:g}",
                "It covers the cone.",
                least=LEAST,
                cone=cone,
            )

    def radius(self, site: Site) -> float:
        """Its outer radius [m]."""
        return site.nozzle.hexagon_radius + self.thickness

    def rings(self, site: Site) -> tuple[Ring, ...]:
        """Round the hexagon's circle; down there the mesh bends with the cone."""
        return (Ring(site.nozzle.hexagon_radius, self.radius(site), self.clearance, site.nozzle.shoulder),)

    def measures(self, site: Site, orientation: Orientation) -> Measures:
        """Its side by its height, its ring-shaped faces by area over perimeter."""
        outer = self.radius(site)
        if orientation == "side":
            return site.nozzle.shoulder - self.clearance, 2.0 * outer, 1.0
        level = self.clearance if orientation == "down" else site.nozzle.shoulder
        inner = site.nozzle.outer_radius(level)
        return (outer**2 - inner**2) / (2.0 * outer), 2.0 * outer, 1.0
