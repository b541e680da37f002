"""The heat balance in three dimensions with ngsolve: half a hot end whose block is a disc or a rectangle with its holes.

The weak forms, contacts and losses are those of the section's triangles; a ceiling's flow is an unknown of the iteration.
Lengths in mm, heat in W, temperatures in K.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import ngsolve as ng
import numpy as np
from galerkin import NEWTON_TOLERANCE, Triangulated, _table
from solid_shape import Layout, tetrahedra

STEP = 1e-4  # share by which the flow is moved for the derivative by it [-]
BOLDEST = 400.0  # step of a coefficient of the field [K]
AROUND = 7  # points on the half circle that is judged
HALF = 2.0  # the mesh is half of the hot end


@dataclass(frozen=True)
class Round:
    """A temperature around the axis [K]: its `mean` over the half circle, and the `least` and the `most`."""

    mean: float
    least: float
    most: float


@dataclass(frozen=True)
class SolidState:
    """A solved state: `flow` [m3/s], heater `power` [W], `judged` at the end of the melt zone, and the field."""

    flow: float
    power: float
    judged: Round
    temperature: ng.GridFunction


@dataclass(frozen=True, eq=False)
class Solid(Triangulated):
    """A problem on tetrahedra: with a disc where `layout` is None, otherwise with the rectangular block and its holes.

    `order` is that of filament and heat break, `metal` that of the rest.
    """

    fine: float = 0.35
    order: int = 3
    metal: int = 2
    layout: Layout | None = None

    @cached_property
    def mesh(self) -> ng.Mesh:
        """The tetrahedra."""
        return tetrahedra(self.problem.arrangement, self.layout, self.fine)

    @cached_property
    def parts(self) -> dict[str, str]:
        """Name of every space, and the regions of the mesh that it spans."""
        return {"filament": "polymer", "nozzle": "nozzle", "heatbreak": "heatbreak", "block": "block|heater"}

    @cached_property
    def space(self) -> ng.FESpace:
        """Product of one continuous space for each part."""
        spaces = []
        for part, span in self.parts.items():
            regions, fixed = self.mesh.Materials(span), "inlet" if part == "filament" else ""
            order = self.order if part in ("filament", "heatbreak") else self.metal
            spaces.append(ng.Compress(ng.H1(self.mesh, order=order, definedon=regions, dirichlet=fixed)))
        return ng.FESpace(spaces)

    @property
    def place(self) -> tuple[ng.CoefficientFunction, ng.CoefficientFunction]:
        """Radius and level of a point [mm]."""
        return ng.sqrt(ng.x**2 + ng.y**2), ng.z

    @property
    def ring(self) -> ng.CoefficientFunction:
        """What a piece of the mesh stands for: itself and its mirror image."""
        return ng.CoefficientFunction(HALF)

    def _conductors(self) -> list[tuple[str, str, ng.BSpline]]:
        regions = self.mesh.GetMaterials()
        return [row for row in super()._conductors() if set(row[0].split("|")) & set(regions)]

    def _stream(self) -> ng.CoefficientFunction:
        """Velocity of a unit flow, for the whole of it; on the axis along it [1/mm2]."""
        radius, level = self.place
        away = ng.sqrt(radius**2 + 1e-12)
        by_z, by_r = self._share_slopes((away, level))
        return (
            HALF
            / (2.0 * math.pi)
            * ng.CoefficientFunction((by_z * ng.x / away**2, by_z * ng.y / away**2, -by_r / away))
        )

    def _share_slopes(self, place: tuple) -> tuple[ng.CoefficientFunction, ng.CoefficientFunction]:
        """As in a section, but the filament fills its bore: heat knows the flow, not the radius that carries it."""
        at, (r, z) = self.at, place
        slant = math.tan(self.problem.arrangement.nozzle.cone_angle / 2.0)
        passage = ng.IfPos(z - at.cone, at.bore, ng.IfPos(z - at.land, at.orifice + (z - at.land) * slant, at.orifice))
        widening = ng.IfPos(z - at.cone, 0.0, ng.IfPos(z - at.land, slant, 0.0))
        return -2.0 * r**2 / passage**3 * widening, 2.0 * r / passage**2

    def _more(self, temperature: dict, weight: dict) -> list:
        """The gas above the block, as a contact at the wall of the bore."""
        at, air = self.at, self.problem.materials.air
        first, second = temperature["filament"], temperature["heatbreak"]
        gas = _table(air.conductivity, 1e-3)((first + second) / 2.0) / (at.bore * math.log(at.bore / at.filament))
        return [self.ring * gas * (first - second) * (weight["filament"] - weight["heatbreak"]) * ng.ds("gas")]

    def _true_area(self, name: str) -> float:
        """True area over the meshed one; what sits in a block's holes loses heat from its ends as the block's side does."""
        if name != "block side" or self.layout is None:
            return super()._true_area(name)
        block = self.problem.arrangement.block
        meshed = ng.Integrate(1.0, self.mesh, ng.BND, definedon=self.mesh.Boundaries(name))
        return 1e6 * (block.width + block.depth) * block.height / meshed

    @cached_property
    def heater(self) -> ng.LinearForm:
        """Load of 1 W: over the disc's heater ring, or over the wall of the cartridge's hole."""
        weight = self.space.TestFunction()[list(self.parts).index("block")]
        load = ng.LinearForm(self.space)
        if self.layout is None:
            regions = self.mesh.Materials("heater")
            load += 1.0 / ng.Integrate(1.0, self.mesh, definedon=regions) * weight * ng.dx("heater")
        else:
            wall = self.mesh.Boundaries("cartridge")
            load += 1.0 / ng.Integrate(1.0, self.mesh, ng.BND, definedon=wall) * weight * ng.ds("cartridge")
        return load.Assemble()

    def _sensor(self, field: ng.GridFunction) -> float:
        """The disc's point, or the mean over the wall of the sensor's hole."""
        if self.layout is None:
            block = self.problem.arrangement.block
            return self.at_point(
                field, "block", (1e3 * block.sensor_radius, 0.0, self.at.bottom + 1e3 * block.sensor_level)
            )
        wall = self.mesh.Boundaries("sensor")
        own = field.components[list(self.parts).index("block")]
        return float(
            ng.Integrate(own, self.mesh, ng.BND, definedon=wall) / ng.Integrate(1.0, self.mesh, ng.BND, definedon=wall)
        )

    def at_point(self, field: ng.GridFunction, part: str, point: tuple[float, float, float]) -> float:
        """Temperature of a `part` at a `point` [mm] [K]."""
        x, y, z = point
        return float(field.components[list(self.parts).index(part)](self.mesh(x, y, z)))

    def around(self, field: ng.GridFunction, part: str, radius: float, level: float) -> Round:
        """Temperatures of a `part` on the half circle of `radius` at `level` [mm]."""
        if radius == 0.0:
            value = self.at_point(field, part, (0.0, 0.0, level))
            return Round(value, value, value)
        # just inside: a curved wall of tetrahedra lies a little beside the true one
        turns = np.linspace(0.0, math.pi, AROUND)[1:-1]
        found = [self.at_point(field, part, (radius * math.cos(t), radius * math.sin(t), level)) for t in turns]
        return Round(float(np.mean(found)), min(found), max(found))

    def _judged(self, field: ng.GridFunction) -> Round:
        return self.around(field, "filament", self._judged_radius(), self.at.land + 1e-6)

    def start(self) -> ng.GridFunction:
        """Metal at the setpoint; neck and filament fall from there to the temperatures of sink and inlet."""
        o, at = self.problem.operation, self.at
        sink = self.problem.surroundings.cold_temperature
        neck = ng.IfPos(ng.z - at.top, ng.IfPos(at.neck_top - ng.z, (ng.z - at.top) / (at.neck_top - at.top), 1.0), 0.0)
        above = ng.IfPos(ng.z - at.joint, (ng.z - at.joint) / (at.end - at.joint), 0.0)
        field = ng.GridFunction(self.space)
        for part, component in zip(self.parts, field.components, strict=True):
            fall, end = (above, o.inlet_temperature) if part == "filament" else (neck, sink)
            component.Set(o.setpoint + fall * (end - o.setpoint), definedon=self.mesh.Materials(self.parts[part]))
        return field

    def solved(self, flow: float, start: ng.GridFunction, ceiling: bool = False) -> SolidState:
        """State from `start` with the sensor at the setpoint: at `flow` [m3/s], or from there at the melt `ceiling`.

        Newton with the power, and at the ceiling with the flow, as last unknowns.
        """
        field = ng.GridFunction(self.space)
        field.vec.data = start.vec
        residual, moved = field.vec.CreateVector(), field.vec.CreateVector()
        step, per_watt, per_flow = (ng.GridFunction(self.space) for _ in range(3))
        setpoint, threshold = self.problem.operation.setpoint, self.problem.materials.polymer.flow_temperature
        for _ in range(25):
            mass = self.problem.materials.polymer.reference_density * flow
            self.flow.Set(mass * (1.0 + STEP))
            self.balance.Apply(field.vec, moved)
            self.flow.Set(mass)
            self.balance.Apply(field.vec, residual)
            self.balance.AssembleLinearization(field.vec)
            inverse = self.balance.mat.Inverse(self.space.FreeDofs(), inverse="umfpack")
            step.vec.data = -(inverse * residual)
            per_watt.vec.data = inverse * self.heater.vec
            moved.data = moved - residual
            per_flow.vec.data = -1.0 / (STEP * flow) * (inverse * moved)
            miss = [setpoint - self._sensor(field) - self._sensor(step)]
            rows = [[self._sensor(per_watt)]]
            if ceiling:
                miss.append(threshold - self._judged(field).mean - self._judged(step).mean)
                rows = [
                    [self._sensor(per_watt), self._sensor(per_flow)],
                    [self._judged(per_watt).mean, self._judged(per_flow).mean],
                ]
            scalars = np.linalg.solve(np.array(rows), np.array(miss))
            power = float(scalars[0])
            step.vec.data += power * per_watt.vec
            if ceiling:
                step.vec.data += float(scalars[1]) * per_flow.vec
            largest = float(np.abs(step.vec.FV().NumPy()).max())
            share = min(1.0, BOLDEST / largest) if largest > 0.0 else 1.0
            field.vec.data += share * step.vec
            if ceiling:
                flow = max(0.5 * flow, flow + share * float(scalars[1]))
            if largest < 10.0 * NEWTON_TOLERANCE:
                return SolidState(flow, power, self._judged(field), field)
        raise AssertionError(f"the iteration did not settle; its last step was {largest:.1e} K")
