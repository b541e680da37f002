"""What pushes the melt through: pressure along bore, cone and orifice from the temperature field, and the feeding force."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.integrate import simpson

from meltzone.fem.discretise import bore_law
from meltzone.fem.field import Field
from meltzone.fem.motion import filled_sections
from meltzone.fem.rheology import section_flow
from meltzone.fem.slow_flow.channel_pressure import channel_pressure, extension
from meltzone.geometry.stack import within
from meltzone.materials.polymer import CrossWLF


@dataclass(frozen=True, eq=False)
class Feeding:
    """Pressure that carries a flow, by part [Pa], and the force on the filament [N].

    `bore`, `channels`, `cone` and `land` are wall shear by lubrication; `stretching` is the extension of melt and stiff core in
    the cone and in every taper or step of the bore, `dividing` that at the entry of the channels of a divided length.
    """

    bore: float
    channels: float
    cone: float
    land: float
    stretching: float
    dividing: float
    filament_area: float

    @property
    def pressure(self) -> float:
        """All of it [Pa]."""
        return self.bore + self.channels + self.cone + self.land + self.stretching + self.dividing

    @property
    def force(self) -> float:
        """Pressure times the filament's section [N]; friction of the solid filament in its bore is left out."""
        return self.pressure * self.filament_area


def feeding(field: Field) -> Feeding:
    """Feeding pressure of a solved field, from the viscosity at its temperatures.

    Shear: the pressure gradient of every section that carries the flow with the local viscosity (lubrication; a cone
    of 60 degrees is at the edge of what that holds for), only as far as the skin has softened. Stretching: the mean of
    3 eta d(eps)/dt over the flow, with d(eps)/dt = (2 U / R) tan(half angle), times d(ln area) through the cone (after
    Cogswell 1972, Polym. Eng. Sci. 12:64, from memory; a plug's uniform rate of extension). Elastic stresses are left out.
    Raises ValueError where the polymer has no viscosity.
    """
    problem, space = field.problem, field.system.space
    law = problem.materials.polymer.viscosity
    if law is None:
        raise ValueError(f"the card of {problem.materials.polymer.label} holds no viscosity")
    sections = filled_sections(space)
    radius, heights = space.points[0][sections], space.points[1][sections[:, 0]]
    warmth = field.temperature[sections]
    _, gradient = section_flow(radius, warmth, np.full(len(sections), field.flow), law)
    gradient = gradient * bore_law(problem).wetted(heights, field.flow)
    nozzle = problem.arrangement.nozzle
    cone_top = nozzle.cone_top
    stretching = _stretching(field, radius, heights, warmth, law)
    divided = channel_pressure(problem.arrangement, radius, heights, warmth, field.flow, law)
    lower, upper = problem.arrangement.divided_levels
    return Feeding(
        bore=_between(heights, gradient, cone_top, lower)
        + _between(heights, gradient, upper, problem.arrangement.block_top),
        channels=divided.shear,
        cone=_between(heights, gradient, nozzle.land, cone_top),
        land=_between(heights, gradient, 0.0, nozzle.land),
        stretching=stretching,
        dividing=divided.entry,
        filament_area=problem.arrangement.filament.area,
    )


def hard_share(field: Field) -> float:
    """Share of the flow that comes to the channels of a divided length below its softening temperature; 0 without one [-]."""
    problem, space = field.problem, field.system.space
    if problem.arrangement.channels is None:
        return 0.0
    sections = filled_sections(space)
    _, upper = problem.arrangement.divided_levels
    row = sections[np.argmin(np.abs(space.points[1][sections[:, 0]] - upper))]
    soft = problem.materials.polymer.softening_temperature
    hard = np.flatnonzero(field.temperature[row] < soft)
    if hard.size == 0:
        return 0.0
    around = row[hard[-1] : hard[-1] + 2]
    return float(np.interp(soft, field.temperature[around], field.system.stream[around]))


def _between(heights: np.ndarray, values: np.ndarray, low: float, high: float) -> float:
    """Integral of `values` over the `heights` from `low` to `high`, which are levels of the mesh: Simpson's rule a cell."""
    inside = within(heights, low, high)
    return float(simpson(values[inside], x=heights[inside]))


def _stretching(field: Field, radius: np.ndarray, heights: np.ndarray, warmth: np.ndarray, law: CrossWLF) -> float:
    """Extension in every cone of the filled bore: a taper and the shoulder of a step are cones too [Pa]."""
    total, arrangement = 0.0, field.problem.arrangement
    for low, high, slope in arrangement.wall.slopes(arrangement.block_top):
        inside = within(heights, low, high)
        r = radius[inside]
        total += extension(field.flow, slope, r[:, -1], (r / r[:, -1:]) ** 2, warmth[inside], law)
    return total
