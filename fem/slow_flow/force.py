"""The flow at which the feeding force reaches the feeder's grip."""

from __future__ import annotations

import math
from dataclasses import replace

from meltzone.fem.bracket import flow_between
from meltzone.fem.faults import GripOutOfReach, GripToSpare, NoConvergence
from meltzone.fem.field import Field
from meltzone.fem.slow_flow.feeding import feeding
from meltzone.fem.steady import AT_SETPOINT, FARTHEST, GRIPPED, solve_at_flow, steady

STRIDE = 1.35  # factor of the flow between the trials that bracket the answer
TRIALS = 20
STEEPNESS = 2.5  # d ln F/d ln Q that the first guess goes by: about what a narrow orifice gives


def force_ceiling(melt: Field) -> Field:
    """Field at the flow at which pushing takes all of the feeder's grip, from the melt ceiling.

    Flow, heater power and temperatures are solved together with the condition that the force is the grip
    (`meltzone.fem.steady`); where that fails, the flow is bracketed by whole solves. Raises NoCeiling where the grip is
    not used up at `FARTHEST` times the melt ceiling, NoConvergence where the search fails, ValueError without grip or
    viscosity.
    """
    grip = melt.problem.operation.grip
    if grip is None:
        raise ValueError("the problem gives no grip")
    at_melt = feeding(melt).force
    flow = melt.flow * min(max((grip / at_melt) ** (1.0 / STEEPNESS), 1.0 / FARTHEST), FARTHEST)
    try:
        found = steady(
            melt.system, replace(melt.state, flow=flow, factorisations=0), ("power", "flow"), (AT_SETPOINT, GRIPPED)
        )
        if found.flow <= FARTHEST * melt.flow:
            return found
    except NoConvergence:
        pass
    far = feeding(solve_at_flow(melt.system, FARTHEST * melt.flow, melt.state)).force
    if far < grip:
        raise GripToSpare(grip, at_melt, far, FARTHEST)
    return flow_at_force(melt, grip)


def flow_at_force(start: Field, grip: float) -> Field:
    """Field at the flow at which the feeding force equals `grip` [N], the sensor at the setpoint.

    The force rises with the flow: more shear, and a colder core. The flow is bracketed from that of `start`, then closed in on;
    every trial starts from the one before. Raises NoConvergence where no flow within a factor of 400 either way meets the grip,
    ValueError where the polymer lacks a number.
    """

    def excess(field: Field) -> float:
        return math.log(feeding(field).force / grip)

    field, spent = start, 0
    for _ in range(TRIALS):
        near, way = field, math.copysign(1.0, -excess(field))
        field = solve_at_flow(near.system, near.flow * STRIDE**way, near.state)
        if excess(field) * excess(near) <= 0.0:
            found = flow_between(near, field, excess)
            return replace(found, factorisations=spent + found.factorisations)
        spent += field.factorisations
    raise GripOutOfReach(grip, field.flow, feeding(field).force)
