"""Heat creep: how high above the block the filament's skin softens, and the flow at which that is no higher than a limit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from meltzone.fem.adjoint import Adjoint, unknowns_at, weighing
from meltzone.fem.bracket import flow_between
from meltzone.fem.faults import NoConvergence
from meltzone.fem.field import NEAR, Field
from meltzone.fem.lever import Lever, central_slope
from meltzone.fem.newton import Condition, State
from meltzone.fem.problem import Problem
from meltzone.fem.steady import AT_SETPOINT, Held, steady
from meltzone.fem.system import Measure, System
from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.mesh import moved_nodes

FINE = 64  # parts of an element between which a height is interpolated


@dataclass(frozen=True)
class JamLimit:
    """Height of softened filament above the block's upper face at which it is taken to jam: `given` [m], or by the shape.

    By the shape: where the soft length reaches past the neck, into the cooled length, by a diameter of the filament. A soft
    plug pushed against a cold wall there takes exp(4 mu L/D) times the force, as a column of grains in a tube (Janssen, from
    memory, with a Poisson's ratio of a half): three times at L = D and a friction mu of 0.3. Assumed, no source.
    """

    given: float | None = None

    def at(self, arrangement: Arrangement) -> float:
        """The height [m] for an `arrangement`; within the middle of its cooled length at most."""
        neck = arrangement.heat_break
        if self.given is not None:
            return self.given
        return neck.neck_length + min(arrangement.filament.diameter, neck.cooled_length / 2.0)


@dataclass(frozen=True, eq=False)
class Skin:
    """The filament's skin in the gas gap: `unknowns` (n,) from the block's upper face up, corners and mid-sides in turn."""

    unknowns: np.ndarray

    def heights(self, problem: Problem, points: np.ndarray) -> np.ndarray:
        """Heights of the unknowns above the block's upper face, all unknowns being at `points` (2, size) [m], (n,) [m]."""
        return np.asarray(points[1, self.unknowns] - problem.arrangement.block_top)

    def measure(self, problem: Problem, points: np.ndarray, height: float) -> Measure:
        """The skin's temperature at `height` above the block's upper face [m]; `problem` and `points` as in `heights`."""
        corners = self.heights(problem, points)[::2]
        k = int(np.clip(np.searchsorted(corners, height) - 1, 0, corners.size - 2))
        x = (height - corners[k]) / (corners[k + 1] - corners[k])
        weights = np.array([(1.0 - x) * (1.0 - 2.0 * x), 4.0 * x * (1.0 - x), x * (2.0 * x - 1.0)])
        return Measure(self.unknowns[2 * k : 2 * k + 3], weights)


def skin_of(system: System) -> Skin:
    """The skin on the mesh of `system`."""
    a, (r, z) = system.problem.arrangement, system.space.points
    polymer = system.space.dofs_of("polymer")
    on = polymer[(np.abs(r[polymer] - a.filament.diameter / 2.0) < NEAR) & (z[polymer] > a.block_top - NEAR)]
    return Skin(on[np.argsort(z[on])])


@dataclass(frozen=True, eq=False)
class SkinProfile:
    """Temperature of the skin [K] over `height` above the block's upper face [m], both (n,), finely."""

    height: np.ndarray
    temperature: np.ndarray

    def soft_height(self, softening: float) -> float:
        """The highest point that is above `softening` [K]: [m], zero where none is."""
        excess = self.temperature - softening
        above = np.flatnonzero(excess > 0.0)
        if above.size == 0:
            return 0.0
        k = int(above[-1])
        if k + 1 == excess.size:
            return float(self.height[k])
        share = excess[k] / (excess[k] - excess[k + 1])
        return float(self.height[k] + share * (self.height[k + 1] - self.height[k]))


def profile_of(field: Field) -> SkinProfile:
    """The skin of `field`, quadratic in every element."""
    system, skin = field.system, skin_of(field.system)
    corners = skin.heights(field.problem, system.space.points)[::2]
    heights = np.unique(np.concatenate([np.linspace(*ends, FINE + 1) for ends in pairwise(corners)]))
    points = system.space.points
    values = [skin.measure(field.problem, points, height).of(field.temperature) for height in heights]
    return SkinProfile(heights, np.array(values))


def soft_height(field: Field) -> float:
    """How high above the block's upper face the filament's skin is above its softening temperature [m]."""
    return profile_of(field).soft_height(field.problem.materials.polymer.softening_temperature)


def softened_at(limit: JamLimit) -> Held:
    """The condition that the skin is just at its softening temperature at the `limit`."""

    def at(system: System, _: State | None) -> Condition:
        problem = system.problem
        here = skin_of(system).measure(problem, system.space.points, limit.at(problem.arrangement))
        return Condition(here, problem.materials.polymer.softening_temperature)

    return Held(at)


def excess_at(limit: JamLimit) -> Callable[[Field], float]:
    """By how much the skin of a field is above its softening temperature at the `limit` [K]."""
    return lambda field: softened_at(limit).at(field.system, None).miss(field.temperature)


def least_flow(limit: JamLimit, fields: Sequence[Field]) -> Field | None:
    """The field whose skin just softens at the `limit`, among `fields` of one system at rising flows.

    None where it softens there at none of them or at all. Raises NoConvergence.
    """
    excess = excess_at(limit)
    found = next(((low, high) for low, high in pairwise(fields) if excess(low) > 0.0 >= excess(high)), None)
    if found is None:
        return None
    low, high = found
    try:
        field = steady(high.system, high.state, ("power", "flow"), (AT_SETPOINT, softened_at(limit)))
    except NoConvergence:
        return flow_between(low, high, excess)
    return field if low.flow <= field.flow <= high.flow else flow_between(low, high, excess)


@dataclass(frozen=True, eq=False)
class HeightSlopes:
    """Derivatives of the soft height of a `field` at a given flow, by the adjoint of the skin's temperature there."""

    field: Field
    height: float

    @cached_property
    def _skin(self) -> Skin:
        return skin_of(self.field.system)

    @cached_property
    def _adjoint(self) -> Adjoint:
        system = self.field.system
        here = self._skin.measure(self.field.problem, system.space.points, self.height)
        by_temperature = np.zeros(system.space.size)
        by_temperature[here.dofs] = here.weights
        return weighing(self.field, ("power",), (AT_SETPOINT,), by_temperature, {})

    @cached_property
    def _fall(self) -> float:
        """How steeply the skin's temperature falls with the height [K/m]."""
        step = 1e-3 * self.height
        low, high = (self._excess(self.field.problem, self.height + move) for move in (-step, step))
        return (low - high) / (2.0 * step)

    def _excess(self, problem: Problem, height: float) -> float:
        """Skin less softening temperature of `problem`, the field's temperatures riding on the nodes [K]."""
        system, points = self.field.system, self.field.system.space.points
        if problem.arrangement != self.field.problem.arrangement:
            nodes = moved_nodes(self.field.section, problem.arrangement)
            if nodes is None:
                raise ValueError("two faces meet here: the height has no derivative by this dimension")
            points = unknowns_at(system, nodes)
        skin = self._skin.measure(problem, points, height).of(self.field.temperature)
        return skin - problem.materials.polymer.softening_temperature

    def _change(self, low: Problem, high: Problem) -> float:
        """First-order change of the height from problem `low` to `high`, both close to the field's own [m]."""
        if low.operation.rating != high.operation.rating:
            return 0.0  # at a flow the heater gives what it takes, whatever its rating
        rides = self._excess(high, self.height) - self._excess(low, self.height)
        return (self._adjoint.change(low, high) + rides) / self._fall

    def by(self, lever: Lever) -> float:
        """Derivative of the height by `lever` [m per unit of it]; raises ValueError where there is none."""
        return central_slope(lever, self._change)
