"""What pushes the melt through: pressure along bore, cone and orifice from the temperature field, and the feeding force."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from meltzone.fem.discretise import bore_law
from meltzone.fem.field import Field
from meltzone.fem.motion import filled_sections
from meltzone.fem.problem import Problem
from meltzone.fem.rheology import gradient_slopes, section_flow
from meltzone.fem.slow_flow.channel_pressure import ChannelPressure, channel_pressure, channel_slopes
from meltzone.fem.slow_flow.streamlines import Streamlines
from meltzone.fem.slow_flow.stretching import Drawing
from meltzone.geometry.stack import within
from meltzone.materials.viscosity import Viscosity


@dataclass(frozen=True, eq=False)
class Feeding:
    """What it takes to push a `flow` [m3/s] through the filled bore of `problem`: pressures by part [Pa], force [N].

    `unknowns` (n, m) are those of the temperature on the bore's levels, from the axis to the wall, bottom level first; `radius`
    [m] and `temperature` [K] there, `heights` (n,) [m].

    Shear: the pressure gradient of every section that carries the flow with the local viscosity (lubrication; a cone
    of 60 degrees is at the edge of what that holds for), only as far as the skin has softened. Stretching: the work of drawing
    the entangled chains along the streamlines of a plug, the mean over the flow (`meltzone.fem.slow_flow.stretching`).
    """

    problem: Problem
    unknowns: np.ndarray
    radius: np.ndarray
    heights: np.ndarray
    temperature: np.ndarray
    flow: float

    @classmethod
    def at(cls, problem: Problem, field: Field, points: np.ndarray) -> Feeding:
        """The push for `problem` at the temperatures of a `field` whose unknowns lie at `points` (2, size) [m].

        Raises ValueError where the polymer has no viscosity or no plateau modulus.
        """
        missing = missing_for_force(problem)
        if missing:
            raise ValueError(missing)
        unknowns = filled_sections(field.system.space)
        r, z = points
        return cls(problem, unknowns, r[unknowns], z[unknowns[:, 0]], field.temperature[unknowns], field.flow)

    @property
    def law(self) -> Viscosity:
        """The melt's shear viscosity."""
        law = self.problem.materials.polymer.viscosity
        assert law is not None, "checked at the beginning"
        return law

    @property
    def modulus(self) -> float:
        """Plateau modulus of the entangled melt [Pa]."""
        modulus = self.problem.materials.polymer.plateau_modulus
        assert modulus is not None, "checked at the beginning"
        return modulus

    @cached_property
    def wetted(self) -> np.ndarray:
        """Share of melt contact at the wall of every level, (n,) [-]."""
        return bore_law(self.problem).wetted(self.heights, self.flow)

    @cached_property
    def gradient(self) -> np.ndarray:
        """Pressure gradient of shear where the wall holds the melt, (n,) [Pa/m]."""
        return section_flow(self.radius, self.temperature, np.full(len(self.heights), self.flow), self.law)[1]

    @cached_property
    def lines(self) -> Streamlines:
        """The streamlines through all that narrows or widens."""
        return Streamlines.along(self.heights, self.radius[:, -1])

    @cached_property
    def drawing(self) -> Drawing:
        """What the streamlines do to the chains."""
        return self.lines.drawing(1.0 / self.law.zero_shear(self.temperature), self.flow, self.modulus)

    @cached_property
    def divided(self) -> ChannelPressure:
        """What a divided length takes."""
        arrangement = self.problem.arrangement
        return channel_pressure(
            arrangement, self.radius, self.heights, self.temperature, self.flow, self.law, self.modulus
        )

    @property
    def shares(self) -> np.ndarray:
        """Weights of the streamlines in a mean over the flow, (m,) [-]: trapezoids over (r/R)^2."""
        width = np.diff((self.radius[0] / self.radius[0, -1]) ** 2)
        return (np.append(width, 0.0) + np.insert(width, 0, 0.0)) / 2.0

    def _rule(self, low: float, high: float) -> np.ndarray:
        """Weights of an integral from `low` to `high` [m], which are levels of the mesh, where it wets, (n,) [m]: Simpson's."""
        from scipy.integrate import simpson  # loaded only where a force is asked for

        inside = within(self.heights, low, high)
        weights = np.zeros(len(self.heights))
        weights[inside] = simpson(np.eye(int(inside.sum())), x=self.heights[inside])
        return weights * self.wetted

    @cached_property
    def _rules(self) -> dict[str, np.ndarray]:
        a = self.problem.arrangement
        lower, upper = a.divided_levels
        return {
            "bore": self._rule(a.nozzle.cone_top, lower) + self._rule(upper, a.block_top),
            "cone": self._rule(a.nozzle.land, a.nozzle.cone_top),
            "land": self._rule(0.0, a.nozzle.land),
        }

    @property
    def bore(self) -> float:
        """Shear along the bore's wall [Pa]."""
        return float(self._rules["bore"] @ self.gradient)

    @property
    def cone(self) -> float:
        """Shear in the cone [Pa]."""
        return float(self._rules["cone"] @ self.gradient)

    @property
    def land(self) -> float:
        """Shear in the orifice's capillary [Pa]."""
        return float(self._rules["land"] @ self.gradient)

    @property
    def channels(self) -> float:
        """Shear in the channels of a divided length [Pa]."""
        return self.divided.shear

    @property
    def dividing(self) -> float:
        """Drawing at the entry of the channels of a divided length [Pa]."""
        return self.divided.entry

    @cached_property
    def stretching(self) -> float:
        """Drawing in the cone and in every taper or step of the bore [Pa]."""
        return float(self.shares @ self.drawing.work)

    @cached_property
    def pressure(self) -> float:
        """All of it [Pa]."""
        return self.bore + self.channels + self.cone + self.land + self.stretching + self.dividing

    @property
    def force(self) -> float:
        """Pressure times the filament's section [N]; friction of the solid filament in its bore is left out."""
        return self.pressure * self.problem.arrangement.filament.area

    def slopes(self, size: int) -> tuple[np.ndarray, float]:
        """Derivatives of the force by the temperatures, (size,) [N/K], and by the flow at the same temperatures [N s/m3]."""
        by_flow, by_warmth = gradient_slopes(
            self.radius, self.temperature, np.full(len(self.heights), self.flow), self.gradient, self.law
        )
        pressed = sum(self._rules.values()) * self.gradient
        rest = self.law.zero_shear_slope(self.temperature)
        drawn, drawn_by_flow = self.lines.slopes(self.drawing, len(self.heights))
        at_nodes = pressed[:, None] * by_warmth - rest * drawn * self.shares
        log_flow = float(pressed @ (by_flow - 4.0 * (1.0 - self.wetted)) + self.shares @ drawn_by_flow)
        in_channels, channels_by_flow = channel_slopes(
            self.problem.arrangement, self.radius, self.heights, self.temperature, self.flow, self.law, self.modulus
        )
        by_temperature = np.zeros(size)
        area = self.problem.arrangement.filament.area
        by_temperature[self.unknowns] = area * (at_nodes + in_channels)
        return by_temperature, area * (log_flow + channels_by_flow) / self.flow


def feeding(field: Field) -> Feeding:
    """What it takes to push the melt of a solved field; raises ValueError where its polymer lacks a number for that."""
    return Feeding.at(field.problem, field, field.system.space.points)


def missing_for_force(problem: Problem) -> str:
    """What the polymer's card lacks for a feeding force, in words; '' where it lacks nothing."""
    polymer = problem.materials.polymer
    if polymer.viscosity is None:
        return f"the card of {polymer.label} holds no viscosity"
    if polymer.plateau_modulus is None:
        return f"the card of {polymer.label} holds no plateau modulus"
    return ""


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
