"""A bore, its divided length and the bore behind, solved exactly by modes: by sections, and by the equivalent passage."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import j0, j1

from meltzone.fem.entry import Modes, modes_of
from meltzone.fem.rearrange import Ring, along_radius, join, sorted_inwards, split
from meltzone.fem.section import Section, bore_section, section_of
from meltzone.geometry.cross_section import CrossSection, disc, ring_of_holes
from meltzone.geometry.errors import GeometryError


@dataclass(frozen=True)
class DividedBore:
    """A heated bore that `ring` divides into holes over a part of its length, in metal that reaches to the radius `outer`.

    `before`, `divided` and `after` are the heated lengths above, along and below the holes; all [m]. Raises GeometryError
    where the metal does not reach beyond the bore or a length cannot be.
    """

    ring: Ring
    outer: float
    before: float
    divided: float
    after: float

    def __post_init__(self) -> None:
        if not self.outer > self.ring.bore:
            raise GeometryError(
                "outer radius", f"{self.outer:g} m", f"more than {self.ring.bore:g} m", "That is the bore."
            )
        if not (self.divided > 0.0 and min(self.before, self.after) >= 0.0):
            lengths = f"{self.before:g}, {self.divided:g}, {self.after:g} m"
            raise GeometryError("lengths", lengths, "0 or more, the divided one more than 0", "Give all in metres.")


@dataclass(frozen=True)
class PlugProperties:
    """Constants of plug flow: `conductivity` and `web_conductivity` [W/m/K], `heat_per_volume` = rho c [J/m3/K].

    `contact` [W/m2/K] lies between melt and metal.
    """

    conductivity: float
    heat_per_volume: float
    web_conductivity: float
    contact: float


@dataclass(frozen=True, eq=False)
class LinearChain:
    """The chain at constant properties, its metal held at one temperature on the radius `outer` of `bore`.

    Temperatures are told as excess over that of the metal, the inlet's being -1. `cells` lie along half a hole's wall and
    along the arc of the joined bore, `radial` across the bore by its radius.
    """

    bore: DividedBore
    properties: PlugProperties
    cells: int = 8
    radial: int = 14

    @property
    def metal(self) -> float:
        """Resistance of the metal from the bore's radius to the outer one, per bore wall area [m2 K/W]."""
        r = self.bore.ring.bore
        return float(r * np.log(self.bore.outer / r) / self.properties.web_conductivity)

    @property
    def contact_ratio(self) -> float:
        """Wall of all holes over that of the bore [-]."""
        return self.bore.ring.count * self.bore.ring.hole / self.bore.ring.bore

    @cached_property
    def divided_film(self) -> float:
        """Conductance per bore wall area [W/m2/K] at which a passage of N times the conductivity decays as the holes do.

        From the first mode of the section, by x J1(x) = Bi J0(x).
        """
        ring, k = self.bore.ring, self.properties.conductivity
        root = np.sqrt(self.holes.rates[0] / (np.pi * ring.count * k))
        return float(root * j1(root) / j0(root) * ring.count * k / ring.bore)

    @property
    def web_resistance(self) -> float:
        """What the webs add, per bore wall area, counted to the bore's radius [m2 K/W]; slightly negative where holes lie
        so far out that they shorten the way through the metal."""
        film = self.properties.contact * self.contact_ratio
        return 1.0 / self.divided_film - 1.0 / film - self.metal

    @cached_property
    def holes(self) -> Modes:
        """Modes of the divided length."""
        p = self.properties
        return modes_of(section_of(self._hole_cross, 0.0, p.web_conductivity, p.contact), p.conductivity)

    def by_sections(self, flow: float, distribution_only: bool = False) -> tuple[Section, np.ndarray]:
        """Section and excess (n,) [-] at the chain's end at `flow` [m3/s], by splitting and joining streams.

        With `distribution_only` the joined stream is sorted, coldest on the axis.
        """
        way = self._way(flow)
        excess = self._bore.advanced(-np.ones(self._bore.section.size), self.bore.before * way)
        excess = self.holes.advanced(self._split @ excess, self.bore.divided * way)
        if distribution_only:
            line = self._bore.section
            excess = sorted_inwards(self.holes.section, excess, line, self.bore.ring.bore)
            return line, self._bore.advanced(excess, self.bore.after * way)
        if self.bore.after == 0.0:
            return self.holes.section, excess
        return self._joined.section, self._joined.advanced(self._join @ excess, self.bore.after * way)

    def by_equivalent(self, flow: float, factor: float) -> np.ndarray:
        """Excess (n,) [-] over the bore's radius at the chain's end at `flow` [m3/s], the divided length being a bore whose
        conductivity is multiplied by `factor` [-]."""
        way = self._way(flow)
        excess = self._bore.advanced(-np.ones(self._bore.section.size), self.bore.before * way)
        divided = modes_of(self._divided_bore, factor * self.properties.conductivity)
        excess = divided.advanced(excess, self.bore.divided * way)
        return self._bore.advanced(excess, self.bore.after * way)

    def judged(self, flow: float, share: float | None, distribution_only: bool = False) -> float:
        """Excess [-] at the edge of the coldest `share` of `flow` [m3/s] by the sections; its mean where that is None."""
        section, excess = self.by_sections(flow, distribution_only)
        if share is None:
            return section.mean(excess)
        return self._innermost(excess, share) if section is self._bore.section else section.coldest(excess, share)

    def judged_equivalent(self, flow: float, factor: float, share: float | None) -> float:
        """The same by the equivalent passage, where the innermost share is the coldest."""
        excess = self.by_equivalent(flow, factor)
        return self._bore.section.mean(excess) if share is None else self._innermost(excess, share)

    def _innermost(self, excess: np.ndarray, share: float) -> float:
        edge = np.array([np.sqrt(share) * self.bore.ring.bore])
        return float((along_radius(self._bore.section, edge) @ excess)[0])

    def _way(self, flow: float) -> float:
        return 1.0 / (self.properties.heat_per_volume * flow)

    @property
    def _film(self) -> float:
        return 1.0 / (1.0 / self.properties.contact + self.metal)

    @cached_property
    def _hole_cross(self) -> CrossSection:
        ring = self.bore.ring
        return ring_of_holes(ring.count, ring.hole, ring.ring, self.bore.outer, self.cells)

    @cached_property
    def _bore(self) -> Modes:
        section = bore_section(self.bore.ring.bore, self._film, self.radial)
        return modes_of(section, self.properties.conductivity)

    @cached_property
    def _divided_bore(self) -> Section:
        return bore_section(self.bore.ring.bore, self.divided_film, self.radial)

    @cached_property
    def _joined(self) -> Modes:
        cross = disc(self.bore.ring.bore, 2 * self.bore.ring.count, self.cells)
        return modes_of(section_of(cross, film=self._film), self.properties.conductivity)

    @cached_property
    def _split(self) -> np.ndarray:
        return split(self.bore.ring, self._bore.section, self.holes.section)

    @cached_property
    def _join(self) -> np.ndarray:
        return join(self.bore.ring, self._hole_cross.mesh, self.holes.section, self._joined.section)
