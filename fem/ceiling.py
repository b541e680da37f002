"""The flow ceilings, found directly: flow and heater power are unknowns of one iteration."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from meltzone.fem.bracket import flow_between, stepped_up
from meltzone.fem.discretise import discretise
from meltzone.fem.faults import (
    HeaterTooWeak,
    NeverMelts,
    NoCeiling,
    NoConvergence,
    RatingNotReached,
    RatingToSpare,
    SetpointTooLow,
)
from meltzone.fem.field import Field
from meltzone.fem.guess import first_guess, plug_ceiling
from meltzone.fem.newton import State
from meltzone.fem.problem import Problem
from meltzone.fem.progress import Reporter
from meltzone.fem.steady import FARTHEST, TRICKLE, conditions_of, is_sharp, narrowed, solve_at_flow, steady, surely
from meltzone.fem.system import System

Limit = Literal["melt", "power", "force", "none"]

SCAN = np.geomspace(1.6, 0.01, 12)  # shares of the plug's ceiling tried where the direct way fails


@dataclass(frozen=True, eq=False)
class Ceilings:
    """The flow ceilings of a `system`: `melt`, `power` and `force` are fields at the ceiling, None where there is none.

    `faults` holds why for each that is None. `mesh_error` is the share by which the governing ceiling moves on the next finer
    mesh, None if that was not asked for or did not converge.
    """

    system: System
    melt: Field | None
    power: Field | None
    faults: Mapping[str, NoConvergence]
    mesh_error: float | None = None
    force: Field | None = None

    @property
    def problem(self) -> Problem:
        """The inputs."""
        return self.system.problem

    @property
    def failed(self) -> tuple[str, ...]:
        """The ceilings whose search failed, so that nobody knows whether they are there."""
        return tuple(name for name, fault in self.faults.items() if not isinstance(fault, NoCeiling))

    @property
    def answered(self) -> bool:
        """Whether there is a ceiling, and no search for another one failed that might lie below it."""
        return self.governs != "none" and not self.failed

    @property
    def found(self) -> dict[Limit, Field]:
        """The ceilings there are, by name."""
        every: dict[Limit, Field | None] = {"melt": self.melt, "power": self.power, "force": self.force}
        return {name: field for name, field in every.items() if field is not None}

    @property
    def governs(self) -> Limit:
        """The least ceiling; 'none' where nothing flows at all."""
        if self.melt is None:
            return "none"
        if self.power is None and self.melt.power > self.problem.operation.rating:
            return "none"
        found = self.found
        return min(found, key=lambda name: found[name].flow)

    @property
    def heater_too_weak(self) -> bool:
        """Whether the heater cannot hold the setpoint even without flow."""
        return isinstance(self.faults.get("power"), HeaterTooWeak)

    @property
    def field(self) -> Field | None:
        """The field at the governing ceiling."""
        return self.found.get(self.governs)

    @property
    def flow(self) -> float:
        """The governing ceiling [m3/s], 0 where there is none."""
        return self.field.flow if self.field else 0.0

    @property
    def factorisations(self) -> int:
        """Matrix factorisations spent on all ceilings."""
        return sum(field.factorisations for field in self.found.values())


def melt_ceiling(system: System, start: State | None = None) -> Field:
    """Field at the flow at which the melt criterion is just met.

    Raises NoCeiling where there is no such flow, or NoConvergence.
    """
    problem = system.problem
    setpoint, threshold = problem.operation.setpoint, problem.materials.polymer.flow_temperature
    if setpoint <= threshold:
        raise SetpointTooLow(setpoint, threshold)
    state = replace(start, factorisations=0) if start else first_guess(system, plug_ceiling(problem))
    try:
        return steady(system, state, ("power", "flow"), ("sensor", "melt"))
    except NoConvergence:
        if is_sharp(problem):
            with suppress(NoConvergence):
                return narrowed(system, state, ("power", "flow"), ("sensor", "melt"))
        melting, beyond = _scan_for_melt(system)
    with suppress(NoConvergence):
        return steady(system, melting.state, ("power", "flow"), ("sensor", "melt"))
    near = flow_between(*((melting, beyond) if beyond else stepped_up(melting, _excess)), _excess)
    return surely(system, near.state, ("power", "flow"), ("sensor", "melt"))


def _excess(field: Field) -> float:
    """The judged temperature less the flow temperature [K]."""
    (criterion,) = conditions_of(field.system, ("melt",))
    return criterion.miss(field.temperature)


def _scan_for_melt(system: System) -> tuple[Field, Field | None]:
    """The first field that melts as the flow is stepped down, and the one before it; raises NoCeiling where none does."""
    warmest, spent, field = -np.inf, 0, None
    for share in SCAN:
        before: Field | None = field
        field = solve_at_flow(system, share * plug_ceiling(system.problem), before.state if before else None)
        spent += field.factorisations
        warmest = max(warmest, _excess(field))
        if warmest >= 0.0:
            return replace(field, factorisations=spent), before
    threshold = system.problem.materials.polymer.flow_temperature
    raise NeverMelts(system.problem.operation, threshold + warmest, threshold)


def power_ceiling(system: System, melt: Field) -> Field:
    """Field at the flow at which the heater's rating is used up with the sensor at the setpoint, from the melt ceiling.

    Heater power is concave in the flow (the warming layer thins as the flow rises), so the tangent at the melt ceiling
    bounds it from above: where even that stays below the rating up to `FARTHEST` times the melt ceiling, no solve
    is needed. Raises NoCeiling where there is no such flow, or NoConvergence.
    """
    rating, farthest = system.problem.operation.rating, FARTHEST * melt.flow
    slope = melt.power_slope or 0.0
    bound = melt.power + slope * (farthest - melt.flow)
    if bound < rating:
        raise RatingToSpare(rating, melt.power, bound, FARTHEST)
    flow = melt.flow + (rating - melt.power) / slope if melt.power < rating else melt.flow
    state = replace(melt.state, flow=flow, power=rating)
    try:
        return steady(system, state, ("flow",), ("sensor",))
    except NoConvergence:
        if is_sharp(system.problem):
            with suppress(NoConvergence):
                return narrowed(system, state, ("flow",), ("sensor",))
        near = flow_between(*_about_rating(system, melt), lambda field: field.power - rating)
    return surely(system, replace(near.state, power=rating), ("flow",), ("sensor",))


def _about_rating(system: System, melt: Field) -> tuple[Field, Field]:
    """Fields at a flow that leaves some of the rating and at one that takes more; raises NoCeiling where there are none."""
    rating, field = system.problem.operation.rating, melt
    if melt.power > rating:
        return _idle(system), melt
    while field.flow < FARTHEST * melt.flow:
        before, field = field, solve_at_flow(system, 1.5 * field.flow, field.state)
        if field.power >= rating:
            return before, field
    raise RatingNotReached(rating, field.flow, field.power)


def _idle(system: System) -> Field:
    """The field at rest; raises HeaterTooWeak where the heater cannot hold the setpoint there."""
    operation, idle = system.problem.operation, solve_at_flow(system, TRICKLE)
    if idle.power < operation.rating:
        return idle
    raise HeaterTooWeak(operation.setpoint, idle.power, operation.rating)


def find_ceilings(
    problem: Problem, mesh_error: bool = False, report: Reporter | None = None, start: State | None = None
) -> Ceilings:
    """The ceilings of `problem`, which is discretised here; all else as in `ceilings_of`."""
    return ceilings_of(discretise(problem), mesh_error, report, start)


def ceilings_of(
    system: System, mesh_error: bool = False, report: Reporter | None = None, start: State | None = None
) -> Ceilings:
    """Melt, power and force ceiling of `system`; with `mesh_error` the governing one again on the next finer mesh.

    `start` is a state on the same mesh from which the melt ceiling is sought, that of a problem that differs little.

    Never raises for a ceiling that does not exist: why stands in the result.
    """
    say = report or (lambda _: None)
    faults: dict[str, NoConvergence] = {}

    def sought(name: str, search: Callable[[], Field]) -> Field | None:
        try:
            return search()
        except NoConvergence as fault:
            faults[name] = fault
            return None

    say("melt ceiling")
    melt = sought("melt", lambda: melt_ceiling(system, start))
    say("power ceiling")
    power = sought("power", lambda: power_ceiling(system, melt) if melt else _no_power_ceiling(system))
    force = sought("force", lambda: _force_ceiling(system.problem, melt, say))
    found = Ceilings(system, melt, power, faults, force=force)
    if not mesh_error or found.governs == "none":
        return found
    say("finer mesh")
    return replace(found, mesh_error=_mesh_error(found))


def _no_power_ceiling(system: System) -> Field:
    """Raise why there is no power ceiling where nothing melts."""
    _idle(system)
    raise NoCeiling("power ceiling not sought, since nothing melts")


def _force_ceiling(problem: Problem, melt: Field | None, say: Reporter) -> Field:
    """The force ceiling; raises NoCeiling where the problem gives nothing to seek it by."""
    if problem.operation.grip is None:
        raise NoCeiling("not sought: the case gives no grip")
    if melt is None:
        raise NoCeiling("not sought, since nothing melts")
    from meltzone.fem.slow_flow.feeding import missing_for_force  # loaded only where a grip is given
    from meltzone.fem.slow_flow.force import force_ceiling

    if missing_for_force(problem):
        raise NoCeiling(f"not sought: {missing_for_force(problem)}")

    say("force ceiling")
    return force_ceiling(melt)


def _mesh_error(found: Ceilings) -> float | None:
    """Share by which the governing ceiling moves on the next finer mesh; None where that solve does not converge."""
    finer = discretise(replace(found.problem, level=found.problem.level + 1.0, subdivision=None))
    assert found.melt is not None and found.field is not None
    try:
        again = melt_ceiling(finer, replace(first_guess(finer, found.melt.flow), power=found.melt.power))
        if found.governs == "power":
            again = power_ceiling(finer, again)
        if found.governs == "force":
            again = _force_ceiling(finer.problem, again, lambda _: None)
    except NoConvergence:
        return None
    return abs(again.flow / found.flow - 1.0)
