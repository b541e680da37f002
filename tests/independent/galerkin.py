"""The heat balance on triangles with ngsolve: weak forms, Newton iteration, bracketed ceiling; shares none with the solver.

Lengths in mm, heat in W, temperatures in K. Every part has its own continuous space; contacts couple the spaces.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import ngsolve as ng
import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.sparse import diags_array
from triangles import Levels, triangulated

from meltzone.fem.problem import Problem
from meltzone.fem.surroundings import loss_curve
from meltzone.geometry.faces import ExposedFace

BOND = 1e8  # conductance that stands for one piece, four hundred thousand times that of the air gap [W/m2/K]
SAMPLES = np.arange(280.0, 560.0, 1.0)  # where the property curves are sampled, linear between [K]
NEWTON_TOLERANCE = 1e-3  # of the last temperature step [K]; convergence is quadratic, so the error left is far less

# contact: the two spaces it joins
JOINTS = {
    "nozzle to block": ("nozzle", "block"),
    "heat break to block": ("heatbreak", "block"),
    "shoulder": ("nozzle", "heatbreak"),
    "sleeve thread": ("nozzle", "sleeve"),
    "sleeve face": ("block", "sleeve"),
    "bond": ("filament", "heatbreak"),
}
BORE = {"nozzle bore": "nozzle", "heat break bore": "heatbreak"}
# face: the space it belongs to and which way it looks
FACES = {
    "nozzle tip": ("nozzle", "down"),
    "nozzle cone": ("nozzle", "side"),
    "nozzle hexagon": ("nozzle", "side"),
    "nozzle shoulder": ("nozzle", "up"),
    "nozzle thread": ("nozzle", "side"),
    "sleeve side": ("sleeve", "side"),
    "sleeve bottom": ("sleeve", "down"),
    "block bottom": ("block", "down"),
    "block side": ("block", "side"),
    "block top": ("block", "up"),
    "heat break top": ("heatbreak", "up"),
    "neck": ("heatbreak", "side"),
    "flange": ("heatbreak", "down"),
}


@dataclass(frozen=True)
class Steady:
    """A solved state: heater `power` [W], `core` and `judged` temperature at the end of the melt zone [K], and the field."""

    power: float
    core: float
    judged: float
    temperature: ng.GridFunction


def _table(function: Callable[[np.ndarray], np.ndarray], scale: float = 1.0) -> ng.BSpline:
    """Piecewise linear copy of a curve over temperature."""
    values = scale * np.asarray(function(SAMPLES), dtype=float)
    return ng.BSpline(2, [float(SAMPLES[0]), *SAMPLES.tolist()], values.tolist())


def softening_fourier(theta: float, biot: float, rings: int = 400) -> float:
    """Fourier number at which the skin of a round bar heated through a film of Biot number `biot` has come to `theta`.

    By finite volumes over the radius and stiff integration in time, from 1 everywhere towards 0.
    """
    edge = np.linspace(0.0, 1.0, rings + 1)
    area, width = np.diff(edge**2) / 2.0, 1.0 / rings
    between = edge[1:-1] / width
    outer = biot / (1.0 + biot * width / 2.0)  # film and the outer half ring in series
    diagonal = -(np.r_[0.0, between] + np.r_[between, outer]) / area
    matrix = diags_array([between / area[1:], diagonal, between / area[:-1]], offsets=[-1, 0, 1]).tocsc()

    def above(_: float, cells: np.ndarray) -> float:
        return float(cells[-1] * outer / biot) - theta

    above.terminal = True  # type: ignore[attr-defined]
    run = solve_ivp(
        lambda _, cells: matrix @ cells,
        (0.0, 10.0),
        np.ones(rings),
        "BDF",
        events=above,
        jac=matrix,
        rtol=1e-8,
        atol=1e-10,
    )
    return float(run.t_events[0][0])


@dataclass(frozen=True, eq=False)
class Triangulated:
    """A problem on triangles of size `fine` [mm] at the bore wall, with elements of the given `order`."""

    problem: Problem
    fine: float = 0.12
    order: int = 3

    @cached_property
    def at(self) -> Levels:
        """Levels and radii of the section."""
        return Levels.of(self.problem.arrangement)

    @cached_property
    def mesh(self) -> ng.Mesh:
        """The triangles."""
        return triangulated(self.problem.arrangement, self.fine)

    @cached_property
    def parts(self) -> dict[str, str]:
        """Name of every space, and the regions of the mesh that it spans."""
        spans = {"filament": "polymer|gap", "nozzle": "nozzle", "heatbreak": "heatbreak", "block": "block|heater"}
        return spans | ({"sleeve": "sleeve"} if self.problem.arrangement.sleeve else {})

    @cached_property
    def space(self) -> ng.FESpace:
        """Product of one continuous space for each part."""
        spaces = []
        for part, span in self.parts.items():
            fixed = "inlet" if part == "filament" else ""
            own = ng.H1(self.mesh, order=self.order, definedon=self.mesh.Materials(span), dirichlet=fixed)
            spaces.append(ng.Compress(own))
        return ng.FESpace(spaces)

    @property
    def unknowns(self) -> int:
        """Number of unknown temperatures."""
        return int(self.space.ndof)

    @cached_property
    def flow(self) -> ng.Parameter:
        """Mass flow in the forms [kg/s]."""
        return ng.Parameter(0.0)

    @property
    def place(self) -> tuple[ng.CoefficientFunction, ng.CoefficientFunction]:
        """Radius and level of a point [mm]."""
        return ng.x, ng.y

    @property
    def ring(self) -> ng.CoefficientFunction:
        """What a piece of the mesh stands for: 2 pi r in a section [mm]."""
        return 2.0 * math.pi * ng.x

    @cached_property
    def balance(self) -> ng.BilinearForm:
        """Residual of the heat balance, without the heater [W]."""
        trial, test = self.space.TnT()
        temperature, weight = (dict(zip(self.parts, proxies, strict=True)) for proxies in (trial, test))
        form = ng.BilinearForm(self.space)
        ring = self.ring
        for region, part, conductivity in self._conductors():
            t, v = temperature[part], weight[part]
            form += ring * conductivity(t) * ng.grad(t) * ng.grad(v) * ng.dx(region)
        t, v = temperature["filament"], weight["filament"]
        capacity = _table(self.problem.materials.polymer.enthalpy_slope)
        form += self.flow * capacity(t) * (self._stream() * ng.grad(t)) * v * ng.dx("polymer")
        for name, part, loss in self._losses():
            form += ring * loss(temperature[part]) * weight[part] * ng.ds(name)
        for name, (first, second), conductance in self._joints():
            jump, across = temperature[first] - temperature[second], weight[first] - weight[second]
            form += ring * conductance * jump * across * ng.ds(name)
        for name, metal in BORE.items():
            jump, across = t - temperature[metal], v - weight[metal]
            form += ring * self._bore_conductance() * jump * across * ng.ds(name)
        for term in self._more(temperature, weight):
            form += term
        return form

    def _more(self, temperature: dict, weight: dict) -> list:
        """Further terms of the balance; none in a section."""
        return []

    def _conductors(self) -> list[tuple[str, str, ng.BSpline]]:
        m = self.problem.materials
        table = [("polymer", "filament", m.polymer), ("gap", "filament", m.air), ("nozzle", "nozzle", m.nozzle)]
        table += [("heatbreak", "heatbreak", m.heat_break), ("block|heater", "block", m.block)]
        if m.sleeve is not None:
            table.append(("sleeve", "sleeve", m.sleeve))
        return [(region, part, _table(material.conductivity, 1e-3)) for region, part, material in table]

    def _stream(self) -> ng.CoefficientFunction:
        """2 pi r times the velocity that carries a unit flow: plug filament, filling the bore over the first stretch.

        The share of the flow inside radius r is (r/R)^2, R the passage's radius, from the bore's filling down, and
        min(r/R_filament, 1)^2 above; over the stretch between, a cubic step leads from one to the other.
        """
        by_z, by_r = self._share_slopes(self.place)
        return ng.CoefficientFunction((by_z, -by_r))

    def _share_slopes(self, place: tuple) -> tuple[ng.CoefficientFunction, ng.CoefficientFunction]:
        """Slopes along the axis and the radius of the share of the flow inside a `place` [1/mm]."""
        at, (r, z) = self.at, place
        slant = math.tan(self.problem.arrangement.nozzle.cone_angle / 2.0)
        cone = at.orifice + (z - at.land) * slant
        passage = ng.IfPos(z - at.cone, at.bore, ng.IfPos(z - at.land, cone, at.orifice))
        widening = ng.IfPos(z - at.cone, 0.0, ng.IfPos(z - at.land, slant, 0.0))
        t = (at.top - z) / (at.top - at.filled)
        step = ng.IfPos(t - 1.0, 1.0, ng.IfPos(t, t * t * (3.0 - 2.0 * t), 0.0))
        step_slope = ng.IfPos(t - 1.0, 0.0, ng.IfPos(t, -6.0 * t * (1.0 - t) / (at.top - at.filled), 0.0))
        in_core = at.filament - r
        solid = ng.IfPos(in_core, (r / at.filament) ** 2, 1.0)
        solid_by_r = ng.IfPos(in_core, 2.0 * r / at.filament**2, 0.0)
        filled, filled_by_r = (r / passage) ** 2, 2.0 * r / passage**2
        filled_by_z = -2.0 * r**2 / passage**3 * widening
        by_r = (1.0 - step) * solid_by_r + step * filled_by_r
        return step * filled_by_z + step_slope * (filled - solid), by_r

    def _losses(self) -> list[tuple[str, str, Callable]]:
        """Flux over surface temperature of every face, on its true area [W/mm2]."""
        p = self.problem
        solids = {"nozzle": p.materials.nozzle, "heatbreak": p.materials.heat_break, "block": p.materials.block}
        solids |= {"sleeve": p.materials.sleeve}
        rows = []
        for name, (part, _) in FACES.items():
            if name not in self.mesh.GetBoundaries():
                continue
            words = part.replace("heatbreak", "heat break")
            emissivity = p.surroundings.emissivities.get(words, getattr(solids[part], "emissivity", 0.0))
            face = ExposedFace.of(p.arrangement, name)
            curve = loss_curve(face, p.materials.air, p.surroundings, emissivity)
            rows.append((name, part, _table(curve, 1e-6 * self._true_area(name))))
        cold, joint = p.surroundings.cold_temperature, 1e-6 * p.contacts.cold_joint
        rows.append(("cold joint", "heatbreak", lambda t: joint * (t - cold)))
        return rows

    def _true_area(self, name: str) -> float:
        """True area of a face over that of the revolved line."""
        a, at = self.problem.arrangement, self.at
        if name == "block side":
            return 2e3 * (a.block.width + a.block.depth) / (2.0 * math.pi * at.block)
        if name == "nozzle hexagon":
            return 6e3 * a.nozzle.hexagon / math.sqrt(3.0) / (2.0 * math.pi * at.hexagon)
        if name == "sleeve side" and a.sleeve and not a.sleeve.round:
            return 6e3 * a.sleeve.width / math.sqrt(3.0) / (2.0 * math.pi * at.sleeve)
        return a.nozzle.thread.exposed_area_ratio if name == "nozzle thread" else 1.0

    def _joints(self) -> list[tuple[str, tuple[str, str], float]]:
        c = self.problem.contacts
        flanks = 1.25  # area of the engaged flanks over the pitch cylinder's, ISO 68-1
        values = {"nozzle to block": flanks * c.thread, "heat break to block": flanks * c.thread}
        values |= {"shoulder": c.shoulder, "sleeve thread": flanks * c.sleeve_thread, "sleeve face": c.sleeve_face}
        values |= {"bond": BOND}
        return [(name, JOINTS[name], 1e-6 * h) for name, h in values.items() if name in self.mesh.GetBoundaries()]

    def _bore_conductance(self) -> ng.CoefficientFunction:
        """Gas gap until the skin has softened, melt contact below [W/mm2/K].

        The skin softens at the depth where that of a round bar does which a wall at the setpoint heats through the gap;
        Fo = pi alpha depth / flow.
        """
        p, at, polymer = self.problem, self.at, self.problem.materials.polymer
        soft, cold, hot = polymer.softening_temperature, p.operation.inlet_temperature, p.operation.setpoint
        gas = float(p.materials.air.conductivity((soft + hot) / 2.0)) / (
            1e-3 * at.bore * math.log(at.bore / at.filament)
        )
        k = float(polymer.conductivity((soft + cold) / 2.0))
        capacity = float(polymer.enthalpy(soft) - polymer.enthalpy(cold)) / (soft - cold)
        fourier = softening_fourier((hot - soft) / (hot - cold), gas * 1e-3 * at.bore / k)
        softened = 1e3 * fourier * self.flow * capacity / (math.pi * k)  # depth at this flow [mm]
        level = self.place[1]
        depth = ng.IfPos(at.top - level, at.top - level, 0.0)
        share = depth**4 / (depth**4 + softened**4)
        return 1e-6 * (gas + (p.contacts.bore_melt - gas) * share)

    @cached_property
    def heater(self) -> ng.LinearForm:
        """Load of 1 W spread over the heater ring."""
        ring = 2.0 * math.pi * ng.x
        volume = ng.Integrate(ring, self.mesh, definedon=self.mesh.Materials("heater"))
        weight = self.space.TestFunction()[list(self.parts).index("block")]
        load = ng.LinearForm(self.space)
        load += ring / volume * weight * ng.dx("heater")
        return load.Assemble()

    def _sensor(self, field: ng.GridFunction) -> float:
        block = self.problem.arrangement.block
        return self._value(field, "block", 1e3 * block.sensor_radius, self.at.bottom + 1e3 * block.sensor_level)

    def _value(self, field: ng.GridFunction, part: str, r: float, z: float) -> float:
        return float(field.components[list(self.parts).index(part)](self.mesh(r, z)))

    def _judged_radius(self) -> float:
        """Radius that is judged at the end of the melt zone [mm]: of a plug, the innermost share f flows inside R sqrt(f)."""
        operation = self.problem.operation
        if operation.profile != "plug" or operation.criterion == "mean":
            raise NotImplementedError("plug flow judged at a point is what is compared")
        return 0.0 if operation.criterion == "core" else self.at.orifice * math.sqrt(operation.inner_share)

    def cold_start(self) -> ng.GridFunction:
        """Metal at the setpoint; neck and filament fall from there to the temperatures of sink and inlet."""
        o, at = self.problem.operation, self.at
        sink = self.problem.surroundings.cold_temperature
        neck = ng.IfPos(ng.y - at.top, ng.IfPos(at.neck_top - ng.y, (ng.y - at.top) / (at.neck_top - at.top), 1.0), 0.0)
        above = ng.IfPos(ng.y - at.top, (ng.y - at.top) / (at.end - at.top), 0.0)
        field = ng.GridFunction(self.space)
        for part, component in zip(self.parts, field.components, strict=True):
            fall, end = (above, o.inlet_temperature) if part == "filament" else (neck, sink)
            component.Set(o.setpoint + fall * (end - o.setpoint))
        return field

    def steady(self, flow: float, start: ng.GridFunction) -> Steady:
        """State at `flow` [m3/s] with the sensor at the setpoint, from `start`: Newton with power as the last unknown."""
        self.flow.Set(self.problem.materials.polymer.reference_density * flow)
        field = ng.GridFunction(self.space)
        field.vec.data = start.vec
        residual, step, per_watt = field.vec.CreateVector(), ng.GridFunction(self.space), ng.GridFunction(self.space)
        setpoint = self.problem.operation.setpoint
        for _ in range(40):
            self.balance.Apply(field.vec, residual)
            self.balance.AssembleLinearization(field.vec)
            inverse = self.balance.mat.Inverse(self.space.FreeDofs(), inverse="umfpack")
            step.vec.data = -(inverse * residual)
            per_watt.vec.data = inverse * self.heater.vec
            power = (setpoint - self._sensor(field) - self._sensor(step)) / self._sensor(per_watt)
            step.vec.data += power * per_watt.vec
            largest = float(np.abs(step.vec.FV().NumPy()).max())
            share = min(1.0, 60.0 / largest) if largest > 0.0 else 1.0
            field.vec.data += share * step.vec
            if largest < NEWTON_TOLERANCE:
                core, judged = (self._value(field, "filament", r, self.at.land) for r in (0.0, self._judged_radius()))
                return Steady(power, core, judged, field)
        raise AssertionError(f"the independent iteration did not settle; its last step was {largest:.1e} K")

    def melt_ceiling(self, low: float, high: float) -> tuple[float, Steady]:
        """Flow [m3/s] between `low` and `high` at which the judged point reaches the flow temperature, by bracketing."""
        threshold, last = self.problem.materials.polymer.flow_temperature, self.steady(low, self.cold_start())

        def miss(flow: float) -> float:
            nonlocal last
            last = self.steady(flow, last.temperature)
            return last.judged - threshold

        flow = brentq(miss, low, high, xtol=1e-14, rtol=1e-4)
        return flow, self.steady(flow, last.temperature)
