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
class ChainSections:
    """The sections of `bore` and what leads from one to the next; the metal is held at one temperature on `bore.outer`.

    `cells` lie along half a hole's wall and along the arc of the joined bore, `radial` across the bore by its radius.
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
    def film(self) -> float:
        """Conductance from the melt in the bore to the outer radius, per bore wall area [W/m2/K]."""
        return 1.0 / (1.0 / self.properties.contact + self.metal)

    @property
    def contact_ratio(self) -> float:
        """Wall of all holes over that of the bore [-]."""
        return self.bore.ring.count * self.bore.ring.hole / self.bore.ring.bore

    @cached_property
    def line(self) -> Section:
        """The bore by its radius."""
        return bore_section(self.bore.ring.bore, self.film, self.radial)

    @cached_property
    def holes(self) -> Section:
        """The ring of holes and its webs."""
        return section_of(self._hole_cross, 0.0, self.properties.web_conductivity, self.properties.contact)

    @cached_property
    def joined(self) -> Section:
        """The bore behind the holes, warmer in some directions than in others."""
        return section_of(disc(self.bore.ring.bore, 2 * self.bore.ring.count, self.cells), film=self.film)

    def equivalent(self, film: float) -> Section:
        """The bore by its radius, with `film` [W/m2/K] in the place of its own."""
        return bore_section(self.bore.ring.bore, film, self.radial)

    @cached_property
    def splitting(self) -> np.ndarray:
        """From `line` to `holes`, (n_holes, n_line)."""
        return split(self.bore.ring, self.line, self.holes)

    @cached_property
    def joining(self) -> np.ndarray:
        """From `holes` to `joined`, (n_joined, n_holes)."""
        return join(self.bore.ring, self._hole_cross.mesh, self.holes, self.joined)

    def innermost(self, temperature: np.ndarray, share: float) -> float:
        """Temperature [K] at the edge of the innermost `share` of the flow, of those over the radius (n_line,) [K]."""
        edge = np.array([np.sqrt(share) * self.bore.ring.bore])
        return float((along_radius(self.line, edge) @ temperature)[0])

    def judged(self, section: Section, temperature: np.ndarray, share: float | None) -> float:
        """Edge of the coldest `share` of the flow [K] of `temperature` (n,) [K] in `section`; the mean where that is None.

        Over the bore's radius the innermost is the coldest.
        """
        if share is None:
            return section.mean(temperature)
        by_radius = len(section.slopes) == 1
        return self.innermost(temperature, share) if by_radius else section.coldest(temperature, share)

    @cached_property
    def _hole_cross(self) -> CrossSection:
        ring = self.bore.ring
        return ring_of_holes(ring.count, ring.hole, ring.ring, self.bore.outer, self.cells)


@dataclass(frozen=True, eq=False)
class LinearChain:
    """The chain of `sections` at constant properties; temperatures are excess over the metal's, the inlet's being -1."""

    sections: ChainSections

    @cached_property
    def divided_film(self) -> float:
        """Conductance per bore wall area [W/m2/K] at which a passage of N times the conductivity decays as the holes do.

        From the first mode of the section, by x J1(x) = Bi J0(x).
        """
        ring, k = self.sections.bore.ring, self.sections.properties.conductivity
        root = np.sqrt(self._holes.rates[0] / (np.pi * ring.count * k))
        return float(root * j1(root) / j0(root) * ring.count * k / ring.bore)

    @property
    def web_resistance(self) -> float:
        """What the webs add, per bore wall area, counted to the bore's radius [m2 K/W].

        Slightly negative where holes lie so far out that they shorten the way through the metal.
        """
        film = self.sections.properties.contact * self.sections.contact_ratio
        return 1.0 / self.divided_film - 1.0 / film - self.sections.metal

    def by_sections(self, flow: float, share: float | None, distribution_only: bool = False) -> float:
        """Excess [-] at the chain's end at `flow` [m3/s], at the edge of the coldest `share` or, where that is None, the mean.

        With `distribution_only` the joined stream is sorted, coldest on the axis.
        """
        bore, sections, way = self.sections.bore, self.sections, self._way(flow)
        excess = self._holes.advanced(sections.splitting @ self._at_division(way), bore.divided * way)
        if distribution_only:
            excess = sorted_inwards(sections.holes, excess, sections.line, bore.ring.bore)
            return sections.judged(sections.line, self._line.advanced(excess, bore.after * way), share)
        if bore.after == 0.0:
            return sections.judged(sections.holes, excess, share)
        return sections.judged(
            sections.joined, self._joined.advanced(sections.joining @ excess, bore.after * way), share
        )

    def by_equivalent(self, flow: float, factor: float, share: float | None) -> float:
        """The same with a bore in the place of the divided length whose conductivity is multiplied by `factor` [-]."""
        bore, way = self.sections.bore, self._way(flow)
        divided = modes_of(self._equivalent, factor * self.sections.properties.conductivity)
        excess = divided.advanced(self._at_division(way), bore.divided * way)
        return self.sections.judged(self.sections.line, self._line.advanced(excess, bore.after * way), share)

    def _at_division(self, way: float) -> np.ndarray:
        return self._line.advanced(-np.ones(self.sections.line.size), self.sections.bore.before * way)

    def _way(self, flow: float) -> float:
        return 1.0 / (self.sections.properties.heat_per_volume * flow)

    @cached_property
    def _line(self) -> Modes:
        return modes_of(self.sections.line, self.sections.properties.conductivity)

    @cached_property
    def _holes(self) -> Modes:
        return modes_of(self.sections.holes, self.sections.properties.conductivity)

    @cached_property
    def _joined(self) -> Modes:
        return modes_of(self.sections.joined, self.sections.properties.conductivity)

    @cached_property
    def _equivalent(self) -> Section:
        return self.sections.equivalent(self.divided_film)
