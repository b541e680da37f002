"""Contact conductances: joints between metals, and the bore wall, which the filament wets once its skin has softened."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from meltzone.fem.heated_bar import softening_fourier
from meltzone.fem.inputs import Contacts, MaterialSet, Operation
from meltzone.fem.surroundings import STEFAN_BOLTZMANN
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.passage import PassageWall
from meltzone.geometry.slit import slit_of

# Contacts whose conductance has another name than their own
HELD_AS = {
    "boot": "wrap",
    "nozzle cover": "wrap",
    "block face": "sleeve_face",
    "blocks": "block_face",
    "sink joint": "cold_joint",
}


@dataclass(frozen=True)
class JointLaw:
    """A constant conductance [W/m2/K]."""

    conductance: float

    def __call__(self, heights: np.ndarray, flow: float) -> tuple[np.ndarray, np.ndarray]:
        """Conductance [W/m2/K] and its derivative by the flow, zero here, both of the shape of `heights` [m]."""
        return np.full_like(heights, self.conductance), np.zeros_like(heights)


@dataclass(frozen=True)
class GasGap:
    """The concentric gas gap between solid filament and `wall`: k / (R ln(R/R_f)) on the wall's area.

    `conductivity` of the gas [W/m/K], `filament` its radius R_f [m]. Where the wall is narrower than `narrowest` [m], the
    least bore that the filament passes as a solid, that counts.
    """

    conductivity: float
    filament: float
    wall: PassageWall
    narrowest: float

    def __call__(self, heights: np.ndarray) -> np.ndarray:
        """Conductance at `heights` [m], of their shape [W/m2/K]."""
        radius = np.maximum(self.wall.radius(heights), self.narrowest)
        return np.asarray(self.conductivity / (radius * np.log(radius / self.filament)))


@dataclass(frozen=True)
class HoleWalls:
    """The walls of a divided length between the levels `lower` and `upper` [m], on the bore's area.

    `area_ratio` is the area of all holes over the bore's [-], `web_resistance` that of the webs in series [m2 K/W].
    """

    lower: float
    upper: float
    area_ratio: float
    web_resistance: float

    def inside(self, heights: np.ndarray) -> np.ndarray:
        """Where `heights` [m] lie between the levels, of their shape."""
        return (heights > self.lower) & (heights < self.upper)

    def seen(self, conductance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """From the `conductance` of a wall [W/m2/K] that of the holes through their webs, and its derivative [-]."""
        webbed = self.area_ratio / (1.0 + self.area_ratio * conductance * self.web_resistance)
        return conductance * webbed, webbed**2 / self.area_ratio


@dataclass(frozen=True)
class LinerEnd:
    """The end of a liner `depth` [m] below the block's upper face, beyond which the skin softens as through the gas alone.

    Without the liner it would soften after `bare_length` times the flow [m per m3/s], in the liner after `lined_length` times
    it. What is missing at the end to softening is made up at the pace of the bare bore; so nothing jumps as `depth` goes to
    zero, nor where the skin softens just at the end.
    """

    depth: float
    lined_length: float
    bare_length: float

    def way(self, scale: float, passed: float) -> float:
        """Way to softening where the lined one is `lined_length` times `scale`, and `passed` of it lies within the liner."""
        if passed >= self.lined_length * scale:
            return self.lined_length * scale
        return self.bare_length * scale + passed * (1.0 - self.bare_length / self.lined_length)

    def parts(self, flow: float) -> tuple[float, float]:
        """d ln way/d ln of the lined and of the bare length at `flow` [m3/s]; their sum is that by the flow itself [-]."""
        if self.depth >= self.lined_length * flow:
            return 1.0, 0.0
        way, lined = self.way(flow, self.depth), self.depth * self.bare_length / self.lined_length
        return lined / way, (self.bare_length * flow - lined) / way


@dataclass(frozen=True)
class BoreLaw:
    """Gas gap until the filament's skin has softened, melt contact below.

    `gas` and `melt` conductances [W/m2/K], the gas's over the height where the bore has steps; the skin enters at the
    level `top` [m] and softens after the length `softening_length` times the flow [m per m3/s]. With x the depth over that
    length, the melt's share is x^4 / (1 + x^4): h = h_gas + (h_melt - h_gas) x^4 / (1 + x^4). In a divided length it is seen
    through `holes`. Where a `liner` ends in the block, its law of the way to softening counts in place of the length.
    """

    gas: float | GasGap
    melt: float
    top: float
    softening_length: float
    holes: HoleWalls | None
    liner: LinerEnd | None = field(default=None, kw_only=True)

    def __call__(self, heights: np.ndarray, flow: float) -> tuple[np.ndarray, np.ndarray]:
        """Conductance [W/m2/K] at `heights` [m] and its derivative by the `flow` [m3/s], both of the shape of `heights`."""
        share, dry = self.wetted(heights, flow), self.dry(heights)
        rise = self.melt - dry
        conductance, slope = self.seen(heights, dry + rise * share)
        return conductance, slope * -4.0 * rise * share * (1.0 - share) * sum(self.softening_parts(flow)) / flow

    def dry(self, heights: np.ndarray) -> np.ndarray:
        """Conductance of the gas gap at `heights` [m], of their shape [W/m2/K]."""
        return self.gas(heights) if isinstance(self.gas, GasGap) else np.full_like(heights, self.gas)

    def seen(self, heights: np.ndarray, wall: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """What the conductance `wall` [W/m2/K] of the wall itself counts for at `heights` [m], and its derivative by it [-]."""
        if self.holes is None:
            return wall, np.ones_like(wall)
        inside = self.holes.inside(heights)
        conductance, slope = self.holes.seen(wall)
        return np.where(inside, conductance, wall), np.where(inside, slope, 1.0)

    def wetted(self, heights: np.ndarray, flow: float) -> np.ndarray:
        """Share of melt contact at `heights` [m] for the `flow` [m3/s], 0 to 1 [-]."""
        depth = np.clip(self.top - heights, 0.0, None)
        way = self.softening_length * flow if self.liner is None else self.liner.way(flow, self.liner.depth)
        x = np.minimum(depth / way, 1e3) ** 4
        return np.asarray(x / (1.0 + x))

    @property
    def softening_lengths(self) -> tuple[float, float]:
        """Softening length at the entry and below a liner's end [m per m3/s]; the same one twice where there is no end."""
        return self.softening_length, self.softening_length if self.liner is None else self.liner.bare_length

    def softening_parts(self, flow: float) -> tuple[float, float]:
        """d ln way/d ln of the softening length at the entry and of that below a liner's end, at `flow` [m3/s] [-]."""
        return (1.0, 0.0) if self.liner is None else self.liner.parts(flow)


ContactLaw = JointLaw | BoreLaw


def gas_gap(arrangement: Arrangement, air_conductivity: float) -> GasGap:
    """The gas gap around the solid filament of `arrangement`, for the gas's conductivity [W/m/K]."""
    return GasGap(air_conductivity, arrangement.filament.diameter / 2.0, arrangement.wall, arrangement.solid_radius)


def joint_law(name: str, arrangement: Arrangement, contacts: Contacts) -> JointLaw:
    """The law of the contact `name` between solids; threads carry the flank area ratio of their profile."""
    conductance = getattr(contacts, HELD_AS.get(name, name.replace(" ", "_")))
    flanks = arrangement.nozzle.thread.flank_area_ratio if name.endswith("thread") else 1.0
    return JointLaw(conductance * flanks)


def boot_law(
    arrangement: Arrangement,
    contacts: Contacts,
    materials: MaterialSet,
    operation: Operation,
    emissivities: tuple[float, float],
) -> JointLaw:
    """The law between block and boot, of the `emissivities` of both [-]: their contact, in series with the gap's air if any.

    1/h = 1/h_contact + d/(k + 4 d sigma T^3 / (1/e1 + 1/e2 - 1)), conduction and radiation between parallel walls (from memory:
    Incropera), both as warm as the setpoint, which takes the radiation somewhat too large.
    """
    pressed = joint_law("boot", arrangement, contacts).conductance
    gap = 0.0 if arrangement.wrap is None else arrangement.wrap.gap or 0.0
    if gap == 0.0:
        return JointLaw(pressed)
    hot, (first, second) = operation.setpoint, emissivities
    radiated = 4.0 * STEFAN_BOLTZMANN * hot**3 / (1.0 / first + 1.0 / second - 1.0)
    return JointLaw(1.0 / (1.0 / pressed + gap / (float(materials.air.conductivity(hot)) + gap * radiated)))


def slit_law(arrangement: Arrangement, contacts: Contacts, materials: MaterialSet, operation: Operation) -> JointLaw:
    """The law of the slit above the hexagon, whose air is as warm as the setpoint; none where it is open."""
    slit = slit_of(arrangement)
    if slit is None:
        return JointLaw(0.0)
    closed = joint_law(slit.contact, arrangement, contacts).conductance
    return JointLaw(slit.conductance(closed, float(materials.air.conductivity(operation.setpoint))))


def _gap_of(arrangement: Arrangement, materials: MaterialSet, operation: Operation) -> GasGap:
    # the gas is about as warm as the mean of the softening skin and the hot wall
    middle = (materials.polymer.softening_temperature + operation.setpoint) / 2.0
    return gas_gap(arrangement, float(materials.air.conductivity(middle)))


def entry_resistances(
    arrangement: Arrangement, contacts: Contacts, materials: MaterialSet, operation: Operation
) -> dict[str, float]:
    """What the heat crosses between hot metal and filament at the block's upper face, on the bore's area, by part [m2 K/W].

    The gas gap, and with a liner there its wall R ln(r2/r1)/k and its joint, less the metal that it takes the place of.
    """
    found = {"gap": 1.0 / float(_gap_of(arrangement, materials, operation)(np.array(arrangement.block_top)))}
    liner, solid = arrangement.liner, materials.liner
    if liner is not None and solid is not None and arrangement.liner_end < arrangement.block_top:
        inner, outer = arrangement.entry_radius, liner.outer_diameter / 2.0
        middle = (materials.polymer.softening_temperature + operation.setpoint) / 2.0
        wall = inner * math.log(outer / inner)
        found["liner"] = wall / float(solid.conductivity(middle)) + inner / outer / contacts.liner
        found["heat break"] = -wall / float(materials.heat_break.conductivity(middle))
    return found


def bore_contact(
    arrangement: Arrangement,
    contacts: Contacts,
    materials: MaterialSet,
    operation: Operation,
    holes: HoleWalls | None,
) -> BoreLaw:
    """The law of the bore's wall, seen through its `holes`, if any.

    The skin softens where it does heated from the block's upper face on, through the gas gap there, by metal at the setpoint.
    """
    polymer, cold, hot = materials.polymer, operation.inlet_temperature, operation.setpoint
    soft = polymer.softening_temperature
    resistances = entry_resistances(arrangement, contacts, materials, operation)
    conductivity = float(polymer.conductivity((soft + cold) / 2.0))
    rise = float(polymer.enthalpy(soft) - polymer.enthalpy(cold)) / (soft - cold)
    diffusivity = conductivity / (polymer.reference_density * rise)

    def length(resistance: float) -> float:
        biot = 1.0 / resistance * arrangement.entry_radius / conductivity
        # Fo = pi alpha x / Q, whatever the radius; bounded so that a skin that softens at once, or never, stays a number
        return min(max(softening_fourier((hot - soft) / (hot - cold), biot) / (math.pi * diffusivity), 1.0), 1e12)

    lined, top = length(sum(resistances.values())), arrangement.block_top
    gap, liner = _gap_of(arrangement, materials, operation), None
    if "liner" in resistances:
        liner = LinerEnd(top - arrangement.liner_end, lined, length(resistances["gap"]))
    return BoreLaw(gap, contacts.bore_melt, top, lined, holes, liner=liner)
