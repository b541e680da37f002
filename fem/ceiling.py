"""The flow ceilings, found directly: flow and heater power are unknowns of one iteration."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from meltzone.fem.field import Field
from meltzone.fem.guess import first_guess, plug_ceiling
from meltzone.fem.newton import NoConvergence, State
from meltzone.fem.problem import Problem
from meltzone.fem.steady import FARTHEST, TRICKLE, NoCeiling, conditions_of, judged_words, solve_at_flow, steady

Limit = Literal["melt", "power", "force", "none"]
Reporter = Callable[[str], None]

SCAN = np.geomspace(1.6, 0.01, 12)  # shares of the plug's ceiling tried where the direct way fails


class HeaterTooWeak(NoCeiling):
    """The heater cannot hold the setpoint even without flow."""


@dataclass(frozen=True, eq=False)
class Ceilings:
    """The flow ceilings of a problem: `melt`, `power` and `force` are fields at the ceiling, None where there is none.

    `faults` holds why for each that is None. `mesh_error` is the share by which the governing ceiling moves on the next finer
    mesh, None if that was not asked for or did not converge.
    """

    problem: Problem
    melt: Field | None
    power: Field | None
    faults: Mapping[str, NoConvergence]
    mesh_error: float | None = None
    force: Field | None = None

    @property
    def reasons(self) -> dict[str, str]:
        """Why there is none, in words, for each ceiling that there is not."""
        return {name: fault.reason for name, fault in self.faults.items()}

    @property
    def failed(self) -> tuple[str, ...]:
        """The ceilings whose search failed, so that nobody knows whether they are there."""
        return tuple(name for name, fault in self.faults.items() if not isinstance(fault, NoCeiling))

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


def melt_ceiling(problem: Problem, start: State | None = None) -> Field:
    """Field at the flow at which the melt criterion is just met.

    Raises NoCeiling, whose reason says why there is no such flow, or NoConvergence.
    """
    operation, threshold = problem.operation, problem.materials.polymer.flow_temperature
    if operation.setpoint <= threshold:
        raise NoCeiling(
            f"no melt ceiling: the setpoint of {operation.setpoint - 273.15:.1f} degC does not exceed the "
            f"polymer's flow temperature of {threshold - 273.15:.1f} degC"
        )
    state = replace(start, factorisations=0) if start else first_guess(problem, plug_ceiling(problem))
    try:
        return steady(problem, state, ("power", "flow"), ("sensor", "melt"))
    except NoConvergence:
        return steady(problem, _scan_for_melt(problem), ("power", "flow"), ("sensor", "melt"))


def _scan_for_melt(problem: Problem) -> State:
    """State near the highest flow that still melts, by stepping the flow down; raises NoCeiling where none does."""
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
    raise NoCeiling(
        f"no melt ceiling: at the end of the melt zone {judged_words(problem.operation)} reaches "
        f"{warmest - 273.15:.1f} degC at most, below the flow temperature of {criterion.target - 273.15:.1f} degC, "
        "at any flow"
    )


def power_ceiling(problem: Problem, melt: Field) -> Field:
    """Field at the flow at which the heater's rating is used up with the sensor at the setpoint, from the melt ceiling.

    Heater power is concave in the flow (the warming layer thins as the flow rises), so the tangent at the melt ceiling
    bounds it from above: where even that stays below the rating up to `FARTHEST` times the melt ceiling, no solve
    is needed. Raises NoCeiling, whose reason says why there is no such flow, or NoConvergence.
    """
    rating, farthest = problem.operation.rating, FARTHEST * melt.flow
    slope = melt.power_slope or 0.0
    bound = melt.power + slope * (farthest - melt.flow)
    if bound < rating:
        raise NoCeiling(
            f"the rating of {rating:g} W is not used up: the heater gives {melt.power:.1f} W at the melt ceiling and "
            f"less than {bound:.0f} W at {FARTHEST:g} times that flow"
        )
    flow = melt.flow + (rating - melt.power) / slope if melt.power < rating else melt.flow
    state = replace(melt.state, flow=flow, power=rating)
    try:
        return steady(problem, state, ("flow",), ("sensor",))
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
            return steady(problem, state, ("flow",), ("sensor",))
    raise NoCeiling(
        f"the rating of {rating:g} W is not used up: even at {1e9 * field.flow:.0f} mm3/s the heater gives {field.power:.1f} W"
    )


def _too_weak(problem: Problem) -> HeaterTooWeak | None:
    """The fault to report where the heater cannot hold the setpoint at rest, else None."""
    rating, idle = problem.operation.rating, solve_at_flow(problem, TRICKLE)
    if idle.power < rating:
        return None
    return HeaterTooWeak(
        f"the heater is too weak: holding {problem.operation.setpoint - 273.15:.0f} degC without any flow takes "
        f"{idle.power:.1f} W of a rating of {rating:g} W"
    )


def find_ceilings(
    problem: Problem, mesh_error: bool = False, report: Reporter | None = None, start: State | None = None
) -> Ceilings:
    """Melt, power and force ceiling of `problem`; with `mesh_error` the governing one again on the next finer mesh.

    `start` is a state on the same mesh from which the melt ceiling is sought, that of a problem that differs little.

    Never raises for a ceiling that does not exist: its reason stands in the result.
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
    melt = sought("melt", lambda: melt_ceiling(problem, start))
    say("power ceiling")
    power = sought("power", lambda: power_ceiling(problem, melt) if melt else _no_power_ceiling(problem))
    force = sought("force", lambda: _force_ceiling(problem, melt, say))
    found = Ceilings(problem, melt, power, faults, force=force)
    if not mesh_error or found.governs == "none":
        return found
    say("finer mesh")
    return replace(found, mesh_error=_mesh_error(found))


def _no_power_ceiling(problem: Problem) -> Field:
    """Raise why there is no power ceiling where nothing melts."""
    raise _too_weak(problem) or NoCeiling("power ceiling not sought, since nothing melts")


def _force_ceiling(problem: Problem, melt: Field | None, say: Reporter) -> Field:
    """The force ceiling; raises NoCeiling where the problem gives nothing to seek it by."""
    if problem.operation.grip is None:
        raise NoCeiling("not sought: the case gives no grip")
    if melt is None:
        raise NoCeiling("not sought, since nothing melts")
    from meltzone.fem.slow_flow.feeding import missing_for_force  # noqa: PLC0415  loaded only where a grip is given
    from meltzone.fem.slow_flow.force import force_ceiling  # noqa: PLC0415

    if missing_for_force(problem):
        raise NoCeiling(f"not sought: {missing_for_force(problem)}")

    say("force ceiling")
    return force_ceiling(problem, melt)


def _mesh_error(found: Ceilings) -> float | None:
    """Share by which the governing ceiling moves on the next finer mesh; None where that solve does not converge."""
    finer = replace(found.problem, level=found.problem.level + 1.0, division=None)
    assert found.melt is not None and found.field is not None
    try:
        again = melt_ceiling(finer, replace(first_guess(finer, found.melt.flow), power=found.melt.power))
        if found.governs == "power":
            again = power_ceiling(finer, again)
        if found.governs == "force":
            again = _force_ceiling(finer, again, lambda _: None)
    except NoConvergence:
        return None
    return abs(again.flow / found.flow - 1.0)
