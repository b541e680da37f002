"""The flow at which the feeding force reaches the feeder's grip."""

from __future__ import annotations

import math

from scipy.optimize import brentq

from meltzone.fem.ceiling import solve_at_flow
from meltzone.fem.feeding import feeding
from meltzone.fem.field import Field
from meltzone.fem.guess import plug_ceiling
from meltzone.fem.newton import NoConvergence
from meltzone.fem.problem import Problem

STRIDE = 1.35  # factor of the flow between the trials that bracket the answer
TRIALS = 20
CLOSE = 1e-8  # of ln(flow)


def flow_at_force(problem: Problem, grip: float, start: Field | None = None) -> Field:
    """Field at the flow at which the feeding force equals `grip` [N], the sensor at the setpoint.

    The force rises with the flow: more shear, and a colder core. The flow is bracketed from `start`, or from the plug's
    thermal ceiling, then closed in on; every trial starts from the one before. Raises NoConvergence where no flow within a
    factor of 400 either way meets the grip, ValueError where the polymer has no viscosity.
    """
    field = start or solve_at_flow(problem, 0.5 * plug_ceiling(problem))
    excess = math.log(feeding(field).force / grip)
    near = field
    for _ in range(TRIALS):
        near, before = field, excess
        field = _at(problem, field.flow * STRIDE ** math.copysign(1.0, -excess), near)
        excess = math.log(feeding(field).force / grip)
        if excess * before <= 0.0:
            return _between(problem, grip, near, field)
    raise NoConvergence(
        f"no flow meets a feeding force of {grip:.0f} N: at {1e9 * field.flow:.2f} mm3/s it is {feeding(field).force:.1f} N"
    )


def _between(problem: Problem, grip: float, first: Field, second: Field) -> Field:
    trial = [first]

    def excess(log_flow: float) -> float:
        trial[0] = _at(problem, math.exp(log_flow), trial[0])
        return math.log(feeding(trial[0]).force / grip)

    low, high = sorted((math.log(first.flow), math.log(second.flow)))
    answer = brentq(excess, low, high, xtol=CLOSE)
    return _at(problem, math.exp(answer), trial[0])


def _at(problem: Problem, flow: float, near: Field) -> Field:
    return solve_at_flow(problem, flow, near.state)
