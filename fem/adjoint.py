"""The adjoint of a ceiling: by one transposed solve, its derivative by anything that the heat balance depends on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from meltzone.fem.ceiling import Ceilings
from meltzone.fem.discretise import judged_at_melt_end, sensor_measure
from meltzone.fem.field import Field
from meltzone.fem.forms import advection, conductivities, gradients_of, outflow
from meltzone.fem.heater import heater_load, powered
from meltzone.fem.limits import LIMITS
from meltzone.fem.linearise import Linearisation
from meltzone.fem.motion import unit_stream
from meltzone.fem.newton import Scalar
from meltzone.fem.problem import Problem
from meltzone.fem.seen import Seen
from meltzone.fem.shape import shape_gradient, unknowns_at
from meltzone.fem.sparse import factorised
from meltzone.fem.steady import GRIPPED, Held, conditions_of
from meltzone.fem.system import System
from meltzone.geometry.mesh import moved_nodes


@dataclass(frozen=True, eq=False)
class Adjoint:
    """Weights of a ceiling Q: dQ = -(weights . dR + sum of multipliers . dg) for a change of the balance R and conditions g.

    `weights` (size,) [m3/s/W], at the inlet's unknowns [m3/s/K]; `multipliers` [m3/s/K] one for each condition in `held`,
    by which the scalars `free` are found.
    """

    field: Field
    free: tuple[Scalar, ...]
    held: tuple[Held, ...]
    weights: np.ndarray
    multipliers: np.ndarray

    @cached_property
    def free_weights(self) -> np.ndarray:
        """The weights with the inlet's taken out: what the residual is weighed with."""
        free = self.weights.copy()
        free[self.field.system.inlet] = 0.0
        return free

    @cached_property
    def by_push(self) -> float:
        """d ln Q by the log of what pushing takes less at the same temperatures, where the grip governs [-]."""
        (condition,) = conditions_of(self.field.system, (GRIPPED,), self.field.state)
        return float(self.multipliers[-1]) * condition.by_flow

    @cached_property
    def at_base(self) -> float:
        """weights . R + multipliers . g of the field's own problem: what its solve left over [m3/s]."""
        return _weighed(self, self.field.problem)

    @cached_property
    def carried(self) -> float:
        """weights . R of the advected enthalpy [m3/s]."""
        return _carried(self, self.field.system)

    @cached_property
    def seen(self) -> Seen:
        """What the weights see of the field where a problem may change it."""
        return Seen(self.field, self.free_weights)

    @cached_property
    def by_division(self) -> float:
        """weights . R of the radial conduction in the divided length, over its factor [m3/s]; 0 without one."""
        system = self.field.system
        if system.divided is None:
            return 0.0
        chosen, n_q = system.divided.cells, system.space.cells.values.shape[1]
        k = conductivities(system, self.field.temperature)
        fields = (self.field.temperature, self.free_weights)
        radial, seen = (gradients_of(system, field)[chosen, :n_q] for field in fields)
        return float(np.sum(k[chosen] * radial * seen * system.space.cells.volume[chosen]))

    @cached_property
    def by_nodes(self) -> np.ndarray:
        """Derivative of weights . R by the coordinates of the mesh's nodes, (2, n)."""
        return shape_gradient(
            self.field.system, self.field.temperature, self.field.flow, self.field.power, self.free_weights
        )

    def change(self, low: Problem, high: Problem) -> float:
        """First-order change of the ceiling from problem `low` to `high`, both close to the field's own [m3/s].

        Only the terms that differ are evaluated, at the field's temperatures riding on the moving nodes. Raises
        ValueError where a dimension makes two faces meet, so that the meshes have no common pattern.
        """
        return (self.at_base if low is self.field.problem else _weighed(self, low)) - _weighed(self, high)


def adjoint_of(found: Ceilings) -> Adjoint:
    """Adjoint of the governing ceiling; one factorisation.

    Raises ValueError where there is no ceiling.

    With A = [[J, B], [C, 0]] of the bordered system, A^T (weights, multipliers) = unit vector of the flow. A velocity
    that follows the viscosity is held as it is.
    """
    field = found.field
    if field is None:
        raise ValueError("there is no ceiling to explain")
    limit = LIMITS[found.governs]
    return weighing(field, limit.free, limit.held, np.zeros(field.system.space.size), {"flow": 1.0})


def weighing(
    field: Field,
    free: tuple[Scalar, ...],
    held: tuple[Held, ...],
    by_temperature: np.ndarray,
    by_scalar: Mapping[Scalar, float],
) -> Adjoint:
    """Adjoint of any measure J(T, p) of `field`, solved with the scalars `free` for the conditions `held`.

    `by_temperature` (size,) and `by_scalar` are the derivatives of J by the unknowns and by the free scalars. Then
    dJ = -(weights . dR + multipliers . dg), plus what J itself changes by; units are those of J in place of m3/s.
    A^T (weights, multipliers) = (dJ/dT, dJ/dp), solved by the Schur complement of the transposed tangent.
    """
    (found,) = weighings(field, free, held, by_temperature, (by_scalar,))
    return found


def weighings(
    field: Field,
    free: tuple[Scalar, ...],
    held: tuple[Held, ...],
    by_temperature: np.ndarray,
    by_scalars: Sequence[Mapping[Scalar, float]],
) -> tuple[Adjoint, ...]:
    """The same for measures that differ in their derivatives by the scalars alone, `by_temperature` (size,) being one for all.

    One factorisation.
    """
    system = field.system
    here = Linearisation.at(system, field.temperature, field.flow, field.power)
    conditions = conditions_of(system, held, field.state)
    right = np.zeros((system.space.size, len(held) + 1))
    for k, condition in enumerate(conditions):
        right[condition.measure.dofs, k] = condition.measure.weights
    right[:, -1] = by_temperature
    solved = factorised(here.tangent()).solve(right, trans="T")
    columns = {"power": -system.source, "flow": here.by_flow}
    border = np.column_stack([columns[name] for name in free])
    border[system.inlet] = 0.0
    direct = np.array([[condition.by(name) for condition in conditions] for name in free])
    made = []
    for by_scalar in by_scalars:
        wanted = np.array([by_scalar.get(name, 0.0) for name in free])
        multipliers = np.linalg.solve(border.T @ solved[:, :-1] - direct, border.T @ solved[:, -1] - wanted)
        made.append(Adjoint(field, free, held, solved[:, -1] - solved[:, :-1] @ multipliers, multipliers))
    return tuple(made)


def _weighed(adjoint: Adjoint, problem: Problem) -> float:
    """weights . R + multipliers . g of `problem` less what does not differ from the field's own problem."""
    field, base = adjoint.field, adjoint.field.problem
    nodes, total = field.section.mesh.p, 0.0
    if problem.arrangement != base.arrangement:
        moved = moved_nodes(field.section, problem.arrangement)
        if moved is None:
            raise ValueError("two faces meet here: the ceiling has no derivative by this dimension")
        total += float(np.sum(adjoint.by_nodes * (moved - nodes)))
        nodes = moved
    system = _moving(field.system, problem, nodes)
    if system.stream is not field.system.stream or problem.materials.polymer is not base.materials.polymer:
        total += _carried(adjoint, system) - adjoint.carried
    total += adjoint.seen.by_conduction(problem) + _division_change(adjoint, problem)
    total += adjoint.seen.by_faces(problem) + adjoint.seen.by_contacts(problem, nodes)
    step = problem.operation.inlet_temperature - base.operation.inlet_temperature
    total -= step * float(adjoint.weights[system.inlet].sum())
    if powered(problem) != powered(base):
        moved_load = heater_load(problem, field.system.space) - field.system.source
        total -= field.power * float(adjoint.free_weights @ moved_load)
    if "power" not in adjoint.free:
        total -= (problem.operation.rating - base.operation.rating) * float(adjoint.free_weights @ system.source)
    return total + float(adjoint.multipliers @ [_missed(held, system, problem, field, nodes) for held in adjoint.held])


def _missed(held: Held, system: System, problem: Problem, field: Field, nodes: np.ndarray) -> float:
    """By how much `problem` misses a condition at the temperatures of `field`, the nodes at `nodes`; `system` carries both."""
    if held.missed is None:
        return held.at(system, None).miss(field.temperature)
    return held.missed(problem, field, unknowns_at(system, nodes))


def _moving(system: System, problem: Problem, nodes: np.ndarray) -> System:
    """`system` with the velocity and the measures of `problem`, its nodes at `nodes`; all else as it was."""
    space, base = system.space, system.problem
    stream, outlet_share, sensor = system.stream, system.outlet_share, system.sensor
    moved, exponent = nodes is not space.section.mesh.p, problem.operation.stream_exponent
    if moved:
        sensor = sensor_measure(problem, space, nodes)
    if not base.operation.follows_viscosity and (moved or exponent != base.operation.stream_exponent):
        stream, polymer = stream.copy(), space.dofs_of("polymer")
        stream[polymer] = unit_stream(problem.arrangement, unknowns_at(system, nodes)[:, polymer], exponent)
        outlet_share = system.outlet.flow_through(stream)
    judged = system.judged
    if stream is not system.stream or problem.operation.judged_shares != base.operation.judged_shares:
        judged = judged_at_melt_end(space, stream, problem.operation.judged_shares)
    return replace(system, problem=problem, stream=stream, outlet_share=outlet_share, sensor=sensor, judged=judged)


def _division_change(adjoint: Adjoint, problem: Problem) -> float:
    """Change of the radial conduction in the divided length where its factor is another one."""
    divided, flow = adjoint.field.system.divided, adjoint.field.flow
    if divided is None:
        return 0.0
    from meltzone.fem.passage import passage_of  # only divided bores need sections across the flow

    new, old = (passage.factor(flow)[0] for passage in (passage_of(problem), divided.passage))
    return (new - old) * adjoint.by_division


def _carried(adjoint: Adjoint, system: System) -> float:
    cells, weights, chosen = system.space.cells, adjoint.free_weights, system.polymer_cells
    flux = advection(system, adjoint.field.temperature)
    load = outflow(system, adjoint.field.temperature)
    inner = -float(np.sum(np.einsum("ei,eij->ej", weights[cells.dofs[chosen]], cells.gradients[chosen]) * flux))
    return float(system.density * adjoint.field.flow * (inner + np.sum(weights[system.outlet.dofs] * load)))
