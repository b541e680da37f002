"""The limits of the flow, each declared once: how its ceiling is found, what it solves for, what is said of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from meltzone.fem.bracket import flow_between, stepped_up
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
from meltzone.fem.newton import Scalar, State
from meltzone.fem.progress import Reporter
from meltzone.fem.steady import (
    AT_SETPOINT,
    FARTHEST,
    GRIPPED,
    JUST_MOLTEN,
    TRICKLE,
    Held,
    is_sharp,
    narrowed,
    solve_at_flow,
    steady,
    surely,
)
from meltzone.fem.system import System

SCAN = np.geomspace(1.6, 0.01, 12)  # shares of the plug's ceiling tried where the direct way fails

Search = Callable[[System, Field | None, Reporter], Field]


@dataclass(frozen=True)
class Limit:
    """A limit of the flow by its `name`: the flow at which it is met is a ceiling.

    `search` finds the field there, from the one at the melt ceiling, None where nothing melts; it raises NoCeiling where there
    is none, or NoConvergence. Its field solves for the scalars `free` by the conditions `held`. `meaning` says what its flow
    is, `said` what holds where it governs.
    """

    name: str
    search: Search
    meaning: str
    said: str
    free: tuple[Scalar, ...] = ("power", "flow")
    held: tuple[Held, ...] = (AT_SETPOINT,)


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
        return steady(system, state, ("power", "flow"), (AT_SETPOINT, JUST_MOLTEN))
    except NoConvergence:
        if is_sharp(problem):
            with suppress(NoConvergence):
                return narrowed(system, state, ("power", "flow"), (AT_SETPOINT, JUST_MOLTEN))
        melting, beyond = _scan_for_melt(system)
    with suppress(NoConvergence):
        return steady(system, melting.state, ("power", "flow"), (AT_SETPOINT, JUST_MOLTEN))
    near = flow_between(*((melting, beyond) if beyond else stepped_up(melting, _excess)), _excess)
    return surely(system, near.state, ("power", "flow"), (AT_SETPOINT, JUST_MOLTEN))


def _excess(field: Field) -> float:
    """The judged temperature less the flow temperature [K]."""
    return JUST_MOLTEN.at(field.system, None).miss(field.temperature)


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
        return steady(system, state, ("flow",), (AT_SETPOINT,))
    except NoConvergence:
        if is_sharp(system.problem):
            with suppress(NoConvergence):
                return narrowed(system, state, ("flow",), (AT_SETPOINT,))
        near = flow_between(*_about_rating(system, melt), lambda field: field.power - rating)
    return surely(system, replace(near.state, power=rating), ("flow",), (AT_SETPOINT,))


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


def _force(system: System, melt: Field | None, say: Reporter) -> Field:
    problem = system.problem
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


def _melt(system: System, melt: Field | None, say: Reporter) -> Field:
    """The melt ceiling from scratch, or on another mesh from the field at the one already known."""
    say("melt ceiling")
    near = None if melt is None else replace(first_guess(system, melt.flow), power=melt.power)
    return melt_ceiling(system, near)


def _power(system: System, melt: Field | None, say: Reporter) -> Field:
    say("power ceiling")
    if melt is not None:
        return power_ceiling(system, melt)
    _idle(system)
    raise NoCeiling("power ceiling not sought, since nothing melts")


# The melt limit first: the others are sought from its field
LIMITS: Mapping[str, Limit] = MappingProxyType(
    {
        limit.name: limit
        for limit in (
            Limit(
                "melt",
                _melt,
                "Flow at which the polymer just melts through.",
                "the polymer only just melts through",
                held=(AT_SETPOINT, JUST_MOLTEN),
            ),
            Limit(
                "power",
                _power,
                "Flow at which the heater's rating is used up.",
                "the heater's rating is used up before the melt limit is reached",
                free=("flow",),
                held=(AT_SETPOINT,),
            ),
            Limit(
                "force",
                _force,
                "Flow at which pushing takes the feeder's whole grip; null without a grip.",
                "pushing takes the feeder's whole grip before the melt limit is reached",
                held=(AT_SETPOINT, GRIPPED),
            ),
        )
    }
)
