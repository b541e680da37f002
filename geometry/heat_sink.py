"""The heat sink round the cooled length of the heat break, a finned body of revolution; all lengths in metres."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

from meltzone.geometry.errors import GeometryError
from meltzone.geometry.lengths import require_length
from meltzone.geometry.outer import Measures, Orientation, OuterPart, Ring, Site


@dataclass(frozen=True)
class HeatSink(OuterPart):
    """Round fins on a round core; `fins` of them evenly over the `height`, lengths in [m].

    The core is meshed over the cooled length of the heat break; above it metal is as warm as there. What all fins and the core
    between them give off leaves by the side of that piece. Dimensions: common practice, no source.
    """

    part: ClassVar[str] = "heat sink"
    contacts: ClassVar[tuple[str, ...]] = ("sink joint",)

    core_diameter: float = 12e-3
    fin_diameter: float = 22e-3
    fin_thickness: float = 1e-3
    fins: int = 11
    height: float = 26e-3

    def __post_init__(self) -> None:
        for field in ("core_diameter", "fin_diameter", "fin_thickness", "height"):
            require_length(f"heat_sink.{field}", getattr(self, field))
        if self.fin_diameter < self.core_diameter + 0.1e-3:
            raise GeometryError(
                "heat_sink.fin_diameter",
                self.fin_diameter,
                "at least {least:g} above the core's {core:g}",
                "It is the diameter over the fins.",
                least=0.1e-3,
                core=self.core_diameter,
            )
        if self.gap < 0.1e-3:
            raise GeometryError(
                "heat_sink.fin_thickness",
                self.fin_thickness,
                "at least {least:g} less than the fins' pitch of {pitch:.3g}",
                "Height over number of fins is their pitch: air must pass between them.",
                least=0.1e-3,
                pitch=self.height / self.fins,
            )

    @property
    def gap(self) -> float:
        """Clear distance of two fins [m]."""
        return self.height / self.fins - self.fin_thickness

    @property
    def fin_length(self) -> float:
        """How far a fin stands out of the core [m]."""
        return (self.fin_diameter - self.core_diameter) / 2.0

    @property
    def fin_area(self) -> float:
        """Both faces of all fins and their edges [m2]."""
        outer, inner = self.fin_diameter, self.core_diameter
        return self.fins * math.pi * ((outer**2 - inner**2) / 2.0 + outer * self.fin_thickness)

    @property
    def bare_area(self) -> float:
        """The core between the fins [m2]."""
        return math.pi * self.core_diameter * (self.height - self.fins * self.fin_thickness)

    def check(self, site: Site) -> None:
        """Raises GeometryError unless its core goes round the heat break."""
        inside = 2.0 * site.nozzle.thread.crest_radius
        if self.core_diameter < inside + 0.1e-3:
            raise GeometryError(
                "heat_sink.core_diameter",
                self.core_diameter,
                "at least {least:g} above the heat break's thread of {inside:g}",
                "The heat break is screwed into it.",
                least=0.1e-3,
                inside=inside,
            )

    def rings(self, site: Site) -> tuple[Ring, ...]:
        """Its core over the cooled length."""
        bottom = site.block_top + site.heat_break.neck_length
        top = bottom + site.heat_break.cooled_length
        return (Ring(site.nozzle.thread.pitch_radius, self.core_diameter / 2.0, bottom, top),)

    def measures(self, site: Site, orientation: Orientation) -> Measures:
        """Its lower face, by area over perimeter; its side has a law of its own."""
        return self.core_diameter / 4.0, self.core_diameter, 1.0
