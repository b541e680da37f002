"""A bore, its divided length and the bore behind, solved exactly by modes: by sections, and by the equivalent passage."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from scipy.special import j0, j1

from meltzone.fem.across.entry import Modes, modes_of
from meltzone.fem.across.rearrange import Ring, along_radius, join, sorted_inwards, split
from meltzone.fem.across.section import Section, bore_section, section_of
from meltzone.geometry.cross_section import CrossSection, disc, ring_of_holes
from meltzone.geometry.errors import GeometryError

SHAPES = 64  # of sections kept at a time
MOST_SHORTENED = 0.9  # of the contact's resistance: what webs may take off it


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
                "outer radius", self.outer, "more than {bore:g}", "That is the bore.", bore=self.ring.bore
            )
        if not (self.divided > 0.0 and min(self.before, self.after) >= 0.0):
            lengths = (self.before, self.divided, self.after)
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
    """The sections of a divided bore and what leads from one to the next, whatever their lengths.

    `ring` divides a bore in metal that is held at one temperature on the radius `outer` [m]. `cells` lie along half a hole's
    wall and along the arc of the joined bore, `radial` across the bore by its radius.
    """

    ring: Ring
    outer: float
    properties: PlugProperties
    cells: int = 8
    radial: int = 14

    @property
    def metal(self) -> float:
        """Resistance of the metal from the bore's radius to the outer one, per bore wall area [m2 K/W]."""
        r = self.ring.bore
        return float(r * np.log(self.outer / r) / self.properties.web_conductivity)

    @property
    def film(self) -> float:
        """Conductance from the melt in the bore to the outer radius, per bore wall area [W/m2/K]."""
        return 1.0 / (1.0 / self.properties.contact + self.metal)

    @property
    def contact_ratio(self) -> float:
        """Wall of all holes over that of the bore [-]."""
        return self.ring.count * self.ring.hole / self.ring.bore

    @property
    def contact_resistance(self) -> float:
        """Resistance of the melt's contact in all holes, per bore wall area [m2 K/W]."""
        return 1.0 / (self.properties.contact * self.contact_ratio)

    @cached_property
    def divided_film(self) -> float:
        """Conductance per bore wall area [W/m2/K] at which a passage of N times the conductivity decays as the holes do.

        From the first mode of the section, by x J1(x) = Bi J0(x).
        """
        each = self.ring.count * self.properties.conductivity
        root = np.sqrt(self.hole_modes.rates[0] / (np.pi * each))
        return float(root * j1(root) / j0(root) * each / self.ring.bore)

    @property
    def web_resistance(self) -> float:
        """What the webs add, per bore wall area, counted to the bore's radius [m2 K/W].

        Negative where holes lie so far out that they shorten the way through the metal, by no more than nine tenths of
        the contact's resistance, so that both together stay one.
        """
        contact = self.contact_resistance
        return max(1.0 / self.divided_film - contact - self.metal, -MOST_SHORTENED * contact)

    @cached_property
    def line(self) -> Section:
        """The bore by its radius."""
        return bore_section(self.ring.bore, self.film, self.radial)

    @cached_property
    def holes(self) -> Section:
        """The ring of holes and its webs."""
        cross = _hole_cross(self.ring, self.outer, self.cells)
        return section_of(cross, self.properties.web_conductivity, self.properties.contact)

    @cached_property
    def joined(self) -> Section:
        """The bore behind the holes, warmer in some directions than in others."""
        return section_of(_joined_cross(self.ring.bore, self.ring.count, self.cells), film=self.film)

    def equivalent(self, film: float) -> Section:
        """The bore by its radius, with `film` [W/m2/K] in the place of its own."""
        return bore_section(self.ring.bore, film, self.radial)

    @cached_property
    def passage(self) -> Section:
        """The bore by its radius in the place of the holes."""
        return self.equivalent(1.0 / (self.contact_resistance + self.web_resistance + self.metal))

    @cached_property
    def line_modes(self) -> Modes:
        """Modes of the bore."""
        return modes_of(self.line, self.properties.conductivity)

    @cached_property
    def hole_modes(self) -> Modes:
        """Modes of the holes."""
        return modes_of(self.holes, self.properties.conductivity)

    @cached_property
    def joined_modes(self) -> Modes:
        """Modes of the bore behind the holes."""
        return modes_of(self.joined, self.properties.conductivity)

    @property
    def splitting(self) -> np.ndarray:
        """From `line` to `holes`, (n_holes, n_line)."""
        return _splitting(self.ring, self.outer, self.cells, self.radial)

    @property
    def joining(self) -> np.ndarray:
        """From `holes` to `joined`, (n_joined, n_holes)."""
        return _joining(self.ring, self.outer, self.cells)

    def innermost(self, temperature: np.ndarray, share: float) -> float:
        """Temperature [K] at the edge of the innermost `share` of the flow, of those over the radius (n_line,) [K]."""
        return float(_at_share(self.line, self.ring.bore, share) @ temperature)

    def judged(self, section: Section, temperature: np.ndarray, share: float | None) -> float:
        """Edge of the coldest `share` of the flow [K] of `temperature` (n,) [K] in `section`; the mean where that is None.

        Over the bore's radius the innermost is the coldest.
        """
        if share is None:
            return section.mean(temperature)
        by_radius = len(section.slopes) == 1
        return self.innermost(temperature, share) if by_radius else section.coldest(temperature, share)


# Lengths and properties change without the shape of a section: its mesh and what leads from one to the next are made once.


@lru_cache(maxsize=SHAPES)
def _hole_cross(ring: Ring, outer: float, cells: int) -> CrossSection:
    return ring_of_holes(ring.count, ring.hole, ring.ring, outer, cells)


@lru_cache(maxsize=SHAPES)
def _joined_cross(bore: float, holes: int, cells: int) -> CrossSection:
    return disc(bore, 2 * holes, cells)


@lru_cache(maxsize=SHAPES)
def _splitting(ring: Ring, outer: float, cells: int, radial: int) -> np.ndarray:
    return split(ring, bore_section(ring.bore, cells=radial), section_of(_hole_cross(ring, outer, cells)))


@lru_cache(maxsize=SHAPES)
def _joining(ring: Ring, outer: float, cells: int) -> np.ndarray:
    cross, behind = _hole_cross(ring, outer, cells), _joined_cross(ring.bore, ring.count, cells)
    return join(ring, cross.mesh, section_of(cross), section_of(behind))


@lru_cache(maxsize=SHAPES)
def _at_share(line: Section, bore: float, share: float) -> np.ndarray:
    """What takes temperatures over the radius of `line` (n,) to that at the edge of the innermost `share` of the flow, (n,)."""
    return np.asarray(along_radius(line, np.array([np.sqrt(share) * bore])).toarray()[0])


@dataclass(frozen=True, eq=False)
class LinearChain:
    """The chain of `sections` over the lengths of `bore` at constant properties.

    Temperatures are excess over the metal's, the inlet's being -1.
    """

    sections: ChainSections
    bore: DividedBore

    def by_sections(self, flow: float, share: float | None, distribution_only: bool = False) -> float:
        """Excess [-] at the chain's end at `flow` [m3/s], at the edge of the coldest `share` or, where that is None, the mean.

        With `distribution_only` the joined stream is sorted, coldest on the axis.
        """
        bore, sections, way = self.bore, self.sections, self._way(flow)
        excess = sections.hole_modes.advanced(sections.splitting @ self._at_division(way), bore.divided * way)
        if distribution_only:
            excess = sorted_inwards(sections.holes, excess, sections.line, bore.ring.bore)
            return sections.judged(sections.line, sections.line_modes.advanced(excess, bore.after * way), share)
        if bore.after == 0.0:
            return sections.judged(sections.holes, excess, share)
        excess = sections.joined_modes.advanced(sections.joining @ excess, bore.after * way)
        return sections.judged(sections.joined, excess, share)

    def by_equivalent(self, flow: float, factor: float, share: float | None) -> float:
        """The same with a bore in the place of the divided length whose conductivity is multiplied by `factor` [-]."""
        bore, sections, way = self.bore, self.sections, self._way(flow)
        divided = modes_of(sections.passage, factor * sections.properties.conductivity)
        excess = divided.advanced(self._at_division(way), bore.divided * way)
        return sections.judged(sections.line, sections.line_modes.advanced(excess, bore.after * way), share)

    def _at_division(self, way: float) -> np.ndarray:
        start = -np.ones(self.sections.line.size)
        return self.sections.line_modes.advanced(start, self.bore.before * way)

    def _way(self, flow: float) -> float:
        return 1.0 / (self.sections.properties.heat_per_volume * flow)
