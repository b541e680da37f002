"""What a design trades at one point: ceilings, heater power and hot volume, each with its slope by the chosen levers."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from meltzone.fem.adjoint import Adjoint, weighing, weighings
from meltzone.fem.ceiling import Ceilings, ceilings_of, find_ceilings
from meltzone.fem.divided import open_shares
from meltzone.fem.faults import NothingFlows
from meltzone.fem.field import Field
from meltzone.fem.hot_volume import volume_above
from meltzone.fem.lever import Lever, central_slope
from meltzone.fem.newton import Scalar
from meltzone.fem.problem import Problem
from meltzone.fem.steady import AT_SETPOINT, JUST_MOLTEN, solve_at_flow
from meltzone.fem.system import System
from meltzone.fem.threads import one_thread
from meltzone.geometry.mesh import moved_nodes

APART = 0.02  # of a lever's natural step: for differences of two solves where there is no derivative


@dataclass(frozen=True, eq=False)
class SlopedValue:
    """A `value` [SI] and its `slopes` (n,) by the levers [SI per unit of the lever]."""

    value: float
    slopes: np.ndarray


@dataclass(frozen=True, eq=False)
class Trade:
    """`melt` ceiling and `power` ceiling [m3/s], `heater` power at the melt ceiling [W], `hot` volume at a flow [m3].

    `power` is None where the rating is not used up, `hot` where no flow was given. `factorisations` counts all matrix
    factorisations spent, those for the slopes included; `differences` the slopes that took solves of their own.
    """

    ceilings: Ceilings
    melt: SlopedValue
    power: SlopedValue | None
    heater: SlopedValue
    hot: SlopedValue | None
    factorisations: int
    differences: int


@one_thread()
def trade_at(system: System, levers: Sequence[Lever], flow: float | None) -> Trade:
    """Solve `system` for its ceilings and, where `flow` [m3/s] is given, its hot volume there; slopes by adjoints.

    One transposed solve for each quantity, however many levers. The hot volume changes by the temperatures, through the
    adjoint of the field at `flow`, and by the nodes that carry them. Where a dimension makes two faces meet there is no
    derivative, and two solves a little apart, or one to the side that can be built, give the slope.
    Raises NoConvergence where nothing melts.
    """
    found = ceilings_of(system)
    if found.melt is None or found.heater_too_weak:
        raise NothingFlows(found.faults)
    none = np.zeros(system.space.size)
    asked: tuple[dict[Scalar, float], ...] = ({"flow": 1.0}, {"power": 1.0})
    at_melt, by_heater = weighings(found.melt, ("power", "flow"), (AT_SETPOINT, JUST_MOLTEN), none, asked)
    changes: dict[str, Callable[[Problem, Problem], float]] = {"melt": at_melt.change, "heater": by_heater.change}
    values, spent = {"melt": found.melt.flow, "heater": found.melt.power}, found.factorisations + 1
    if found.power is not None:
        values["power"], spent = found.power.flow, spent + 1
        changes["power"] = weighing(found.power, ("flow",), (AT_SETPOINT,), none, {"flow": 1.0}).change
    if flow is not None:
        field = solve_at_flow(system, flow, found.melt.state)
        values["hot"], changes["hot"] = _hot(field)
        spent += field.factorisations + 1
    slopes = {name: np.zeros(len(levers)) for name in values}
    differences = 0
    for k, lever in enumerate(levers):
        try:
            for name, change in changes.items():
                slopes[name][k] = central_slope(lever, change)
        except ValueError:
            apart, cost = _difference(lever, flow, values)
            for name, slope in apart.items():
                slopes[name][k] = slope
            spent, differences = spent + cost, differences + 1
    made = {name: SlopedValue(values[name], slopes[name]) for name in values}
    return Trade(found, made["melt"], made.get("power"), made["heater"], made.get("hot"), spent, differences)


def hot_volume(field: Field) -> float:
    """Volume of polymer above its flow temperature [m3]."""
    return _volume(field, field.problem)


def _volume(field: Field, problem: Problem) -> float:
    """The same with the shape and the flow temperature of `problem`, the temperatures riding on the nodes."""
    nodes = None
    if problem.arrangement != field.problem.arrangement:
        nodes = moved_nodes(field.section, problem.arrangement)
        if nodes is None:
            raise ValueError("two faces meet here: the hot volume has no derivative by this dimension")
    threshold = problem.materials.polymer.flow_temperature
    shares = open_shares(field.system.space, problem.arrangement)
    return volume_above(field.system.space, field.temperature, threshold, nodes, shares).volume


def _hot(field: Field) -> tuple[float, Callable[[Problem, Problem], float]]:
    """The hot volume and what gives its first-order change between two problems."""
    threshold = field.problem.materials.polymer.flow_temperature
    shares = open_shares(field.system.space, field.problem.arrangement)
    hot = volume_above(field.system.space, field.temperature, threshold, shares=shares)
    adjoint: Adjoint = weighing(field, ("power",), (AT_SETPOINT,), hot.by_temperature, {})

    def change(low: Problem, high: Problem) -> float:
        if low.operation.rating != high.operation.rating:
            return 0.0  # at a flow the heater gives what it takes, whatever its rating
        return adjoint.change(low, high) + _volume(field, high) - _volume(field, low)

    return hot.volume, change


def _difference(lever: Lever, flow: float | None, here: Mapping[str, float]) -> tuple[dict[str, float], int]:
    """Slopes by solves a little apart, and the factorisations spent.

    From both sides where both can be built; else from two points on the one side, since the value at the meeting of two
    faces may jump: there a contact closes.
    """
    apart, spent = APART * lever.step, 0
    known: dict[float, dict[str, float]] = {}
    for step in (-apart, apart, -2.0 * apart, 2.0 * apart):
        if len(known) == 2:
            break
        try:
            found = find_ceilings(lever.at(lever.value + step))
        except ValueError:
            continue
        if found.melt is None:
            continue
        spent += found.factorisations
        values = {**here, "melt": found.melt.flow, "heater": found.melt.power}
        if found.power is not None:
            values["power"] = found.power.flow
        if flow is not None:
            field = solve_at_flow(found.system, flow, found.melt.state)
            values["hot"], spent = hot_volume(field), spent + field.factorisations
        known[step] = values
    if len(known) < 2:
        return dict.fromkeys(here, 0.0), spent
    low, high = min(known), max(known)
    return {name: (known[high][name] - known[low][name]) / (high - low) for name in here}, spent
