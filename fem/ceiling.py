"""Fields at a given flow, and the flow ceilings: found directly, with flow and heater power as unknowns of one iteration."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from meltzone.fem.build import shaped_system
from meltzone.fem.field import Field
from meltzone.fem.guess import first_guess, plug_ceiling
from meltzone.fem.inputs import Operation
from meltzone.fem.newton import Condition, NoConvergence, Scalar, State, bordered
from meltzone.fem.problem import Problem
from meltzone.fem.system import System

Limit = Literal["melt", "power", "force", "none"]
Held = Literal["sensor", "melt"]
Reporter = Callable[[str], None]

TRICKLE = 1e-11  # the flow that stands for none: 0.01 mm3/s [m3/s]
FARTHEST = 3.0  # power ceilings beyond this multiple of the melt ceiling are of no use to anyone
SCAN = np.geomspace(1.6, 0.01, 12)  # shares of the plug's ceiling tried where the direct way fails


@dataclass(frozen=True, eq=False)
class Ceilings:
    """The flow ceilings of a problem: `melt`, `power` and `force` are fields at the ceiling, None where there is none.

    `reasons` says why for each that is None. `mesh_error` is the share by which the governing ceiling moves on the next finer
    mesh, None if that was not asked for or did not converge.
    """

    problem: Problem
    melt: Field | None
    power: Field | None
    reasons: dict[str, str]
    mesh_error: float | None = None
    force: Field | None = None

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
        return "too weak" in self.reasons.get("power", "")

    @property
    def field(self) -> Field | None:
        """The field at the governing ceiling."""
        return self.found.get(self.governs)

    @property
    def flow(self) -> float:
        """The governing ceiling [m3/s], 0 where there is none."""
        return self.field.flow if self.field else 0.0

    @property
    def statement(self) -> str:
        """What governs, in a sentence."""
        if self.governs == "none":
            return "; ".join(reason for name, reason in self.reasons.items() if name != "force")
        if self.governs == "power":
            return f"the heater's rating of {self.problem.operation.rating:g} W is used up before the melt limit is reached"
        if self.governs == "force":
            return (
                f"pushing takes the feeder's grip of {self.problem.operation.grip:g} N before the melt limit is reached"
            )
        judged = judged_words(self.problem.operation)
        threshold = self.problem.materials.polymer.flow_temperature - 273.15
        return f"{judged} leaves the melt zone at the flow temperature of {threshold:.0f} degC"

    @property
    def factorisations(self) -> int:
        """Matrix factorisations spent on all ceilings."""
        return sum(field.factorisations for field in self.found.values())


def judged_words(operation: Operation) -> str:
    """The criterion in words."""
    return {
        "core": "the core (the axis)",
        "inner": f"the innermost {100.0 * operation.inner_share:g} % of the flow",
        "mean": "the mean temperature",
    }[operation.criterion]


def conditions_of(system: System, names: tuple[Held, ...]) -> tuple[Condition, ...]:
    """Conditions on `system`: "sensor" at the setpoint, "melt" the judged temperature at the flow temperature."""
    problem = system.problem
    known = {
        "sensor": Condition(system.sensor, problem.operation.setpoint),
        "melt": Condition(system.judged_by(problem.operation.criterion), problem.materials.polymer.flow_temperature),
    }
    return tuple(known[name] for name in names)


def _solved(problem: Problem, start: State, free: tuple[Scalar, ...], held: tuple[Held, ...]) -> Field:
    """Field that holds the named conditions, from `start`; a shaped velocity is fitted at every step."""
    system = start.system if start.system is not None and start.system.problem is problem else problem.system
    entering = start.temperature.copy()  # the start may be the state of a problem whose filament enters colder
    entering[system.inlet] = problem.operation.inlet_temperature
    start = replace(start, temperature=entering)

    def reshape(moving: System, state: State) -> tuple[System, tuple[Condition, ...]]:
        shaped = shaped_system(moving, state.temperature, state.flow)
        return shaped, conditions_of(shaped, held)

    fitted = reshape if problem.operation.profile == "shaped" else None
    return Field.of(problem, bordered(system, start, free, conditions_of(system, held), reshape=fitted))


def solve_at_flow(problem: Problem, flow: float, start: State | None = None) -> Field:
    """Field at `flow` [m3/s] with the sensor at the setpoint, from `start` or from cold.

    Raises NoConvergence. A flow of zero stands for 0.01 mm3/s.
    """
    flow = max(flow, TRICKLE)
    state = replace(start, flow=flow, factorisations=0) if start else first_guess(problem, flow)
    return _solved(problem, state, ("power",), ("sensor",))


def melt_ceiling(problem: Problem, start: State | None = None) -> Field:
    """Field at the flow at which the melt criterion is just met.

    Raises NoConvergence, whose reason says why there is no such flow.
    """
    operation, threshold = problem.operation, problem.materials.polymer.flow_temperature
    if operation.setpoint <= threshold:
        raise NoConvergence(
            f"no melt ceiling: the setpoint of {operation.setpoint - 273.15:.1f} degC does not exceed the "
            f"polymer's flow temperature of {threshold - 273.15:.1f} degC"
        )
    state = replace(start, factorisations=0) if start else first_guess(problem, plug_ceiling(problem))
    try:
        return _solved(problem, state, ("power", "flow"), ("sensor", "melt"))
    except NoConvergence:
        return _solved(problem, _scan_for_melt(problem), ("power", "flow"), ("sensor", "melt"))


def _scan_for_melt(problem: Problem) -> State:
    """State near the highest flow that still melts, by stepping the flow down; raises NoConvergence where none does."""
    (criterion,) = conditions_of(problem.system, ("melt",))
    warmest, state, spent = -np.inf, None, 0
    for share in SCAN:
        flow = share * plug_ceiling(problem)
        field = solve_at_flow(problem, flow, state)
        spent += field.factorisations
        state = replace(field.state, factorisations=spent)
        (criterion,) = conditions_of(field.system, ("melt",))
        miss = criterion.miss(field.temperature)
        warmest = max(warmest, miss + criterion.target)
        if miss >= 0.0:
            return state
    raise NoConvergence(
        f"no melt ceiling: at the end of the melt zone {judged_words(problem.operation)} reaches "
        f"{warmest - 273.15:.1f} degC at most, below the flow temperature of {criterion.target - 273.15:.1f} degC, "
        "at any flow"
    )


def power_ceiling(problem: Problem, melt: Field) -> Field:
    """Field at the flow at which the heater's rating is used up with the sensor at the setpoint, from the melt ceiling.

    Heater power is concave in the flow (the warming layer thins as the flow rises), so the tangent at the melt ceiling
    bounds it from above: where even that stays below the rating up to `FARTHEST` times the melt ceiling, no solve
    is needed. Raises NoConvergence, whose reason says why there is no such flow.
    """
    rating, farthest = problem.operation.rating, FARTHEST * melt.flow
    slope = melt.power_slope or 0.0
    bound = melt.power + slope * (farthest - melt.flow)
    if bound < rating:
        raise NoConvergence(
            f"the rating of {rating:g} W is not used up: the heater gives {melt.power:.1f} W at the melt ceiling and "
            f"less than {bound:.0f} W at {FARTHEST:g} times that flow"
        )
    flow = melt.flow + (rating - melt.power) / slope if melt.power < rating else melt.flow
    state = replace(melt.state, flow=flow, power=rating)
    try:
        return _solved(problem, state, ("flow",), ("sensor",))
    except NoConvergence as fault:
        if melt.power > rating:
            raise _too_weak(problem) or fault from fault
        return _climb_to_rating(problem, melt)


def _climb_to_rating(problem: Problem, melt: Field) -> Field:
    """Step the flow up from the melt ceiling until the rating is passed, then close in."""
    rating, field, spent = problem.operation.rating, melt, 0
    while field.flow < FARTHEST * melt.flow:
        field = solve_at_flow(problem, 1.5 * field.flow, field.state)
        spent += field.factorisations
        if field.power >= rating:
            state = replace(field.state, power=rating, factorisations=spent)
            return _solved(problem, state, ("flow",), ("sensor",))
    raise NoConvergence(
        f"the rating of {rating:g} W is not used up: even at {1e9 * field.flow:.0f} mm3/s the heater gives {field.power:.1f} W"
    )


def _too_weak(problem: Problem) -> NoConvergence | None:
    """The fault to report where the heater cannot hold the setpoint at rest, else None."""
    rating, idle = problem.operation.rating, solve_at_flow(problem, TRICKLE)
    if idle.power < rating:
        return None
    return NoConvergence(
        f"the heater is too weak: holding {problem.operation.setpoint - 273.15:.0f} degC without any flow takes "
        f"{idle.power:.1f} W of a rating of {rating:g} W"
    )


def find_ceilings(problem: Problem, mesh_error: bool = False, report: Reporter | None = None) -> Ceilings:
    """Melt, power and force ceiling of `problem`; with `mesh_error` the governing one again on the next finer mesh.

    Never raises for a ceiling that does not exist: its reason stands in the result.
    """
    say = report or (lambda _: None)
    reasons: dict[str, str] = {}
    melt = power = None
    say("melt ceiling")
    try:
        melt = melt_ceiling(problem)
    except NoConvergence as fault:
        reasons["melt"] = fault.reason
    say("power ceiling")
    try:
        if melt:
            power = power_ceiling(problem, melt)
        elif weak := _too_weak(problem):
            raise weak
        else:
            reasons["power"] = "power ceiling not sought, since nothing melts"
    except NoConvergence as fault:
        reasons["power"] = fault.reason
    found = Ceilings(problem, melt, power, reasons, force=_force_ceiling(problem, melt, reasons, say))
    if not mesh_error or found.governs == "none":
        return found
    say("finer mesh")
    return replace(found, mesh_error=_mesh_error(found))


def _force_ceiling(problem: Problem, melt: Field | None, reasons: dict[str, str], say: Reporter) -> Field | None:
    """The force ceiling where the problem gives a grip; else None, with why put into `reasons`."""
    from meltzone.fem.force import force_ceiling  # noqa: PLC0415  it solves fields by this module

    polymer = problem.materials.polymer
    if problem.operation.grip is None:
        reasons["force"] = "not sought: the case gives no grip"
    elif polymer.viscosity is None:
        reasons["force"] = f"not sought: the card of {polymer.label} holds no viscosity"
    elif melt is None:
        reasons["force"] = "not sought, since nothing melts"
    else:
        say("force ceiling")
        try:
            return force_ceiling(problem, melt)
        except NoConvergence as fault:
            reasons["force"] = fault.reason
    return None


def _mesh_error(found: Ceilings) -> float | None:
    """Share by which the governing ceiling moves on the next finer mesh; None where that solve does not converge."""
    finer = replace(found.problem, level=found.problem.level + 1.0, division=None)
    assert found.melt is not None and found.field is not None
    try:
        again = melt_ceiling(finer, replace(first_guess(finer, found.melt.flow), power=found.melt.power))
        if found.governs == "power":
            again = power_ceiling(finer, again)
        if found.governs == "force":
            from meltzone.fem.force import force_ceiling  # noqa: PLC0415  as above

            again = force_ceiling(finer, again)
    except NoConvergence:
        return None
    return abs(again.flow / found.flow - 1.0)
