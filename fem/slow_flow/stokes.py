"""Slow flow of the melt through bore, cone and orifice of a solved field: pressure, feeding force, viscous heat, velocity."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix, csc_matrix

from meltzone.fem.discretise import bore_law
from meltzone.fem.field import Field
from meltzone.fem.measure import TWO_PI
from meltzone.fem.motion import filled_sections
from meltzone.fem.problem import Problem
from meltzone.fem.rheology import section_flow
from meltzone.fem.slow_flow.channel_pressure import ChannelPressure, channel_pressure
from meltzone.fem.slow_flow.creep import Creep, Flowing, solve_creep
from meltzone.fem.slow_flow.taylor_hood import FlowSpace
from meltzone.fem.sparse import scatter
from meltzone.fem.system import System
from meltzone.geometry.lengths import SAME
from meltzone.geometry.stack import within
from meltzone.materials.viscosity import Viscosity

STIFFEST = 1e8  # times the viscosity at rest of the hottest melt: what is stiffer counts as this stiff
LEAST_SLIP = 1e-9  # of the flow's speed: the share of dry contact below which the wall holds the melt


@dataclass(frozen=True, eq=False)
class Passage:
    """The filled bore of a problem as the flow sees it: its space, and its levels from the axis to the wall.

    `sections` (n, m) are unknowns of the temperature, bottom level first; `local` the same as velocity nodes.
    """

    problem: Problem
    space: FlowSpace
    sections: np.ndarray
    local: np.ndarray

    @classmethod
    def of(cls, system: System) -> Passage:
        """The polymer's cells below the block's upper face."""
        problem, space = system.problem, system.space
        cells = space.cells_of("polymer")
        highest = space.section.mesh.p[1][space.section.mesh.t[:, cells]].max(axis=0)
        flow = FlowSpace(space.section.mesh, cells[highest < problem.arrangement.block_top + SAME])
        sections = filled_sections(space)
        return cls(problem, flow, sections, np.searchsorted(flow.nodes, sections))

    @property
    def heights(self) -> np.ndarray:
        """Height of every level, (n,) [m]."""
        return self.space.points[1][self.local[:, 0]]

    @property
    def slopes(self) -> list[tuple[float, float, float]]:
        """Lower and upper level [m] and dR/dz [-] of every cone of the wall: inner cone, tapers, shoulders of steps."""
        return self.problem.arrangement.wall.slopes(self.problem.arrangement.block_top)

    @property
    def wall(self) -> np.ndarray:
        """Radius of the wall at every level, (n,) [m]."""
        return self.space.points[0][self.local[:, -1]]


@dataclass(frozen=True, eq=False)
class MeltFlow:
    """Slow flow of the melt at `flow` [m3/s]: what carries it, what it heats.

    `pressure` [Pa] is the mean push on the filled bore's upper end.
    `divided` is what a divided length takes, by lubrication: the solved flow slips through it.
    """

    passage: Passage
    solved: Flowing
    flow: float
    divided: ChannelPressure

    @property
    def pressure(self) -> float:
        """Push on the upper end of the filled bore over its area [Pa]: viscous stress included."""
        top = self.passage.local[-1]
        push = -float(self.solved.reactions[top + self.passage.space.size].sum())
        return push / (math.pi * float(self.passage.wall[-1]) ** 2) + self.channels

    @property
    def force(self) -> float:
        """Pressure times the filament's section [N]; friction of the solid filament in its bore is left out."""
        return self.pressure * self.passage.problem.arrangement.filament.area

    @property
    def heat(self) -> float:
        """Viscous heat [W]."""
        return float(np.sum(self.solved.heating * self.passage.space.volume))

    def load(self, size: int) -> np.ndarray:
        """Load of `heat` and of sliding along the wall on the unknowns of the temperature, (size,) [W].

        What rubs is the melt's own skin where it is not yet soft.
        """
        space, velocity = self.passage.space, self.solved.velocity
        rubbed = velocity * (self.solved.creep.friction @ velocity)
        local = (self.solved.heating * space.volume) @ space.values.T
        load = scatter([local], [space.nodes[space.local]], size)
        load[space.nodes] += rubbed.reshape(2, -1).sum(axis=0)
        return load

    @property
    def carried(self) -> np.ndarray:
        """Flow inside each node of every level over the flow, (n, m) [-]; its last column is 1 but for the mesh's error."""
        return _inside(self.passage, self.solved.velocity) / self.flow

    @property
    def stream(self) -> np.ndarray:
        """Share of each section's flow inside its nodes, (n, m) [-], exactly 1 at the wall."""
        carried = self.carried
        return carried / carried[:, -1:]

    def spent(self, low: float, high: float) -> float:
        """Pressure spent between the levels `low` and `high` of the mesh [m]: viscous heat there over the flow [Pa]."""
        space = self.passage.space
        z = space.mesh.p[1][space.mesh.t[:, space.cells]].mean(axis=0)
        heat = np.sum(self.solved.heating * space.volume, axis=1)
        return float(heat[(z > low) & (z < high)].sum()) / self.flow

    @property
    def land(self) -> float:
        """Pressure spent in the orifice's capillary [Pa]."""
        return self.spent(0.0, self.passage.problem.arrangement.nozzle.land)

    @property
    def cone(self) -> float:
        """Pressure spent in the cone: shear, and the convergence of a core that is still stiff [Pa]."""
        nozzle = self.passage.problem.arrangement.nozzle
        return self.spent(nozzle.land, nozzle.cone_top)

    @property
    def channels(self) -> float:
        """Pressure spent in the channels of a divided length and at their entry [Pa]."""
        return self.divided.shear + self.divided.entry

    @property
    def bore(self) -> float:
        """Pressure spent in the bore and along its wall [Pa]."""
        return self.pressure - self.land - self.cone - self.channels


def melt_flow_of(field: Field, near: MeltFlow | None = None) -> MeltFlow:
    """Slow flow of the melt through a solved field, from that of a field on the same mesh where `near` is given.

    Without `near` it begins with the velocity that the field was solved with, if that is a slow flow's.
    Raises ValueError where the polymer has no viscosity, NoConvergence.
    """
    polymer = field.problem.materials.polymer
    if polymer.viscosity is None:
        raise ValueError(f"the card of {polymer.label} holds no viscosity")
    passage = Passage.of(field.system)
    creep = field.system.creep if near is None else near.solved.velocity / near.flow
    start = creep * field.flow if creep.size else None
    return melt_flow(passage, field.temperature, field.flow, polymer.viscosity, start)


def melt_flow(
    passage: Passage, temperature: np.ndarray, flow: float, law: Viscosity, start: np.ndarray | None = None
) -> MeltFlow:
    """Slow flow of the melt at `flow` [m3/s] through the viscosity that the `temperature` (size,) [K] of a field gives it.

    Enters as a plug, leaves freely through the orifice, sticks to cone and land, and to tapers and the shoulders of
    steps. Along the straight bore the wall drags as much as
    its share of melt contact asks for: traction over slip w G R / (2 U (1 - w)) with the pressure gradient G of
    fully developed flow, so that it slides freely in the gas gap and sticks where it wets. The viscosity
    at rest is bounded: colder than D2 of the law the melt counts as at D2, and nothing is stiffer than `STIFFEST` times the
    hottest melt. `start` (2 n,) is a velocity to begin with. Raises NoConvergence.
    """
    space = passage.space
    viscosity = law.zero_shear(temperature[space.nodes])
    rest = np.exp(space.at_points(np.log(np.minimum(viscosity, STIFFEST * viscosity.min()))))
    fixed, held = _held(passage, flow)
    creep = Creep(space, law, rest, fixed, held, _friction(passage, temperature, flow, law))
    radius, warmth = space.points[0][passage.local], temperature[passage.sections]
    modulus = passage.problem.materials.polymer.plateau_modulus
    divided = channel_pressure(passage.problem.arrangement, radius, passage.heights, warmth, flow, law, modulus)
    return MeltFlow(passage, solve_creep(creep, start), flow, divided)


def _held(passage: Passage, flow: float) -> tuple[np.ndarray, np.ndarray]:
    """Velocity unknowns held, and at what [m/s].

    A plug enters, nothing crosses axis and wall, melt sticks in cone and land and wherever else the bore widens or narrows.
    """
    local, size, nozzle = passage.local, passage.space.size, passage.problem.arrangement.nozzle
    narrow = passage.heights < nozzle.cone_top + SAME
    for low, high, _ in passage.slopes:
        narrow |= within(passage.heights, low, high)
    plug = -flow / (math.pi * passage.wall[-1] ** 2)
    groups = [
        (local[-1] + size, plug),
        (local[-1], 0.0),
        (local[0], 0.0),
        (local[:, 0], 0.0),
        (local[:, -1], 0.0),
        (local[narrow, -1] + size, 0.0),
    ]
    fixed, first = np.unique(np.concatenate([group for group, _ in groups]), return_index=True)
    return fixed, np.concatenate([np.full(group.size, value) for group, value in groups])[first]


def _friction(passage: Passage, temperature: np.ndarray, flow: float, law: Viscosity) -> csc_matrix:
    """Drag of the bore's wall on the axial velocities, (2 n, 2 n) [N s/m]."""
    space, nozzle = passage.space, passage.problem.arrangement.nozzle
    heights, wall = passage.heights, passage.wall
    wetted = bore_law(passage.problem).wetted(heights, flow)
    radius = space.points[0][passage.local]
    _, gradient = section_flow(radius, temperature[passage.sections], np.full(len(wall), flow), law)
    dry = np.maximum(1.0 - wetted, LEAST_SLIP)
    drag = wetted * gradient * wall / 2.0 / (flow / (math.pi * wall**2)) / dry
    straight = heights > nozzle.cone_top - SAME
    for low, high in (*(ends[:2] for ends in passage.slopes), passage.problem.arrangement.divided_levels):
        straight &= (heights < low - SAME) | (heights > high - SAME)  # the upper end drags as the cylinder above it
    rows = np.flatnonzero(straight[:-2:2]) * 2
    three = rows[:, None] + np.arange(3)
    # Simpson's rule on each cell's edge: its three nodes are its points
    weight = (
        TWO_PI * wall[three] * drag[three] * (heights[three[:, 2:]] - heights[three[:, :1]]) * [1 / 6, 2 / 3, 1 / 6]
    )
    at = passage.local[three, -1] + space.size
    shape = (2 * space.size, 2 * space.size)
    return coo_matrix((weight.ravel(), (at.ravel(), at.ravel())), shape).tocsc()


def _inside(passage: Passage, velocity: np.ndarray) -> np.ndarray:
    """Flow inside each node of every level, downwards, (n, m) [m3/s]: 2 pi r u_z is a cubic on each edge."""
    r = passage.space.points[0][passage.local]
    speed = -velocity[passage.local + passage.space.size] * TWO_PI * r
    a, b, c = speed[:, :-2:2], speed[:, 1:-1:2], speed[:, 2::2]
    width = r[:, 2::2] - r[:, :-2:2]
    u = [-velocity[passage.local[:, k : r.shape[1] - 2 + k : 2] + passage.space.size] for k in range(3)]
    # to the middle: u = u0 + (4 u1 - 3 u0 - u2) x + 2 (u0 - 2 u1 + u2) x^2, r = r0 + x w, x from 0 to 1/2
    slope, curve = 4.0 * u[1] - 3.0 * u[0] - u[2], 2.0 * (u[0] - 2.0 * u[1] + u[2])
    low = r[:, :-2:2]
    half = low * (u[0] / 2.0 + slope / 8.0 + curve / 24.0) + width * (u[0] / 8.0 + slope / 24.0 + curve / 64.0)
    inside = np.zeros(r.shape)
    inside[:, 2::2] = np.cumsum(width * (a + 4.0 * b + c) / 6.0, axis=1)
    inside[:, 1::2] = inside[:, :-2:2] + TWO_PI * width * half
    return inside
