"""A solved temperature field and what is read from it: the core, the wall, the sensor, the tip, the axis, the melt zone."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from meltzone.fem.balance import EnergyBalance, audit
from meltzone.fem.inputs import Criterion
from meltzone.fem.newton import State
from meltzone.fem.problem import Problem
from meltzone.fem.system import System
from meltzone.geometry.mesh import SectionMesh
from meltzone.materials.curves import Curve

NEAR = 1e-9  # nodes closer than a nanometre are on the line looked for [m]


@dataclass(frozen=True, eq=False)
class AxisProfile:
    """Temperatures along the passage, from the orifice up: heights `z` [m] with `core` [K], `wall_z` [m] with `wall` [K]."""

    z: np.ndarray
    core: np.ndarray
    wall_z: np.ndarray
    wall: np.ndarray


@dataclass(frozen=True, eq=False)
class Field:
    """The steady state of `system` at `flow` [m3/s] with heater `power` [W]; `temperature` [K] at its unknowns.

    `factorisations` is what the solve cost; `power_slope` is dP/dQ at the fixed setpoint where the solve gave it [J/m3].
    """

    system: System
    flow: float
    power: float
    temperature: np.ndarray
    factorisations: int
    power_slope: float | None = None

    @classmethod
    def of(cls, state: State) -> Field:
        """Wrap a converged state."""
        assert state.system is not None, "a state that solves nothing is no field"
        return cls(state.system, state.flow, state.power, state.temperature, state.factorisations, state.power_slope)

    @property
    def problem(self) -> Problem:
        """What was solved."""
        return self.system.problem

    @property
    def state(self) -> State:
        """The state as a start for another solve."""
        return State(self.temperature, self.flow, self.power, system=self.system)

    @property
    def section(self) -> SectionMesh:
        """The mesh that carries the field."""
        return self.system.space.section

    def judged_by(self, criterion: Criterion) -> float:
        """The temperature at the end of the melt zone that `criterion` looks at [K]."""
        return self.system.judged_by(criterion).of(self.temperature)

    @property
    def judged(self) -> float:
        """The one that its own criterion looks at [K]."""
        return self.judged_by(self.problem.operation.criterion)

    @property
    def core(self) -> float:
        """Temperature of the axis at the end of the melt zone [K]."""
        return self.judged_by("core")

    @property
    def inner(self) -> float:
        """Temperature at the edge of the innermost share of the flow, at the end of the melt zone [K]."""
        return self.judged_by("inner")

    @property
    def mean(self) -> float:
        """Flow-weighted mean temperature at the end of the melt zone [K]."""
        return self.judged_by("mean")

    @property
    def wall(self) -> float:
        """Temperature of the bore wall, its solid side, at the end of the melt zone [K]."""
        profile = self.axis
        return float(np.interp(self.problem.arrangement.nozzle.land, profile.wall_z, profile.wall))

    @property
    def sensor(self) -> float:
        """Temperature of the sensor point [K]."""
        return self.system.sensor.of(self.temperature)

    @property
    def tip(self) -> float:
        """Temperature of the nozzle's face beside the orifice [K]."""
        return float(self.axis.wall[0])

    @cached_property
    def axis(self) -> AxisProfile:
        """Core and wall along the passage."""
        space, a = self.system.space, self.problem.arrangement
        r, z = space.points
        centre = np.flatnonzero(r < NEAR)
        centre = centre[np.argsort(z[centre])]
        solids = [
            space.dofs_of(part) for part in ("nozzle", "tip", "heat break", "liner") if part in self.section.parts
        ]
        solid = np.unique(np.concatenate(solids))
        inner = a.wall.radius(z[solid])
        wall = solid[np.abs(r[solid] - inner) < NEAR]
        wall = wall[np.lexsort((wall, z[wall]))]
        _, first = np.unique(np.round(z[wall] / NEAR), return_index=True)
        wall = wall[first]
        return AxisProfile(z[centre], self.temperature[centre], z[wall], self.temperature[wall])

    @cached_property
    def balance(self) -> EnergyBalance:
        """The energy audit."""
        return audit(self.system, self.temperature, self.flow, self.power)

    @property
    def melt_zone(self) -> tuple[float, float]:
        """Lower and upper end of the melt zone [m]: the capillary's entry, and where the wall passes the flow temperature.

        The upper end is the highest level at which the bore wall is above the flow temperature; both are equal
        where it never is.
        """
        land, profile = self.problem.arrangement.nozzle.land, self.axis
        excess = profile.wall - self.problem.materials.polymer.flow_temperature
        hot = np.flatnonzero((excess > 0.0) & (profile.wall_z >= land - NEAR))
        if hot.size == 0:
            return land, land
        k = int(hot[-1])
        if k + 1 == excess.size:
            return land, float(profile.wall_z[k])
        share = excess[k] / (excess[k] - excess[k + 1])
        return land, float(profile.wall_z[k] + share * (profile.wall_z[k + 1] - profile.wall_z[k]))

    @property
    def part_extremes(self) -> dict[str, tuple[float, float]]:
        """Coldest and hottest temperature of every part [K]."""
        result = {}
        for part in self.section.parts:
            here = self.temperature[self.system.space.dofs_of(part)]
            result[part] = (float(here.min()), float(here.max()))
        return result

    @cached_property
    def cell_peclet(self) -> float:
        """Largest cell Peclet number |m| cp dx / (2 k) along the flow in the polymer [-]."""
        system, polymer = self.system, self.problem.materials.polymer
        cells = system.space.cells
        chosen = system.polymer_cells
        n_q = cells.values.shape[1]
        speed = np.hypot(system.drift[:, :n_q], system.drift[:, n_q:]) / cells.volume[chosen]
        corners = self.section.mesh.p[1][self.section.mesh.t[:, chosen]]
        height = (corners.max(axis=0) - corners.min(axis=0))[:, None]
        here = cells.at_points(self.temperature, chosen)
        ratio = polymer.enthalpy_slope(here) / polymer.conductivity(here)
        return float(np.max(system.density * self.flow * speed * ratio * height / 2.0))

    @property
    def overshoot(self) -> float:
        """How far the field leaves the physical bounds, coldest surroundings to hottest block [K]."""
        operation, outside = self.problem.operation, self.problem.surroundings
        floor = min(operation.inlet_temperature, outside.air_temperature, outside.cold_temperature)
        extremes = self.part_extremes
        ceiling = max(extremes[block.part][1] for block in self.problem.arrangement.blocks)
        below, above = floor - float(self.temperature.min()), float(self.temperature.max()) - ceiling
        return max(below, above, 0.0)

    @property
    def beyond_tables(self) -> tuple[tuple[Curve, tuple[float, float]], ...]:
        """The polymer's curves that were used by more than 1 K beyond what they are stated for, and the range used [K]."""
        polymer, (low, high) = self.problem.materials.polymer, self.part_extremes["polymer"]
        curves = (
            (curve, curve.backed_range) for curve in (polymer.conductivity, polymer.heat_capacity, polymer.density)
        )
        return tuple((curve, (low, high)) for curve, (first, last) in curves if low < first - 1.0 or high > last + 1.0)
