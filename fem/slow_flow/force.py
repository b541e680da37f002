"""The flow at which the feeding force reaches the feeder's grip."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from scipy.optimize import brentq

from meltzone.fem.faults import GripNotMet, GripOutOfReach, GripToSpare
from meltzone.fem.field import Field
from meltzone.fem.slow_flow.feeding import feeding
from meltzone.fem.slow_flow.stokes import melt_flow_of
from meltzone.fem.steady import FARTHEST, solve_at_flow

STRIDE = 1.35  # factor of the flow between the trials that bracket the answer
TRIALS = 20
CLOSE = 1e-8  # of ln(flow)
ROUNDS = 8  # of correcting the estimate by the solved flow of the melt
MET = 1e-4  # of the grip: the force is that close to it


@dataclass(eq=False)
class _Trials:
    """Fields at one flow after another, each from the one before; counts what they cost."""

    field: Field
    spent: int

    def at(self, flow: float) -> Field:
        self.field = solve_at_flow(self.field.system, flow, self.field.state)
        self.spent += self.field.factorisations
        return self.field

    def excess(self, grip: float) -> float:
        """ln of the estimated force of the last field over the grip."""
        return math.log(feeding(self.field).force / grip)


def force_ceiling(melt: Field) -> Field:
    """Field at the flow at which pushing takes all of the feeder's grip, from the melt ceiling.

    The force is that of the melt's own slow flow, `melt_flow_of`, convergence of a stiff core included. It is searched for with
    the quick estimate of `feeding`, whose ratio to it hardly moves with the flow and is corrected each round. Raises
    NoCeiling where the grip is not used up at `FARTHEST` times the melt ceiling, NoConvergence where the search fails,
    ValueError without grip or viscosity.
    """
    grip = melt.problem.operation.grip
    if grip is None:
        raise ValueError("the problem gives no grip")
    far = solve_at_flow(melt.system, FARTHEST * melt.flow, melt.state)
    pushed = melt_flow_of(far)
    spent = far.factorisations + pushed.solved.factorisations
    if pushed.force < grip:
        at_melt = melt_flow_of(melt, pushed).force
        raise GripToSpare(grip, at_melt, pushed.force, FARTHEST)
    trials, estimate = _Trials(melt, spent), feeding(far).force
    slope = (math.log(estimate) - trials.excess(1.0)) / math.log(FARTHEST)
    for _ in range(ROUNDS):
        slope = _approach(trials, grip * estimate / pushed.force, slope)
        pushed, estimate = melt_flow_of(trials.field, pushed), feeding(trials.field).force
        trials.spent += pushed.solved.factorisations
        if abs(pushed.force / grip - 1.0) < MET:
            return replace(trials.field, factorisations=trials.spent)
    raise GripNotMet(grip)


def _approach(trials: _Trials, wanted: float, slope: float) -> float:
    """Bring the estimated force to `wanted` [N] by secants of the logarithms; returns d ln F/d ln Q at the end [-]."""
    excess = trials.excess(wanted)
    for _ in range(TRIALS):
        if abs(excess) < MET / 3.0:
            break
        before, step = excess, max(-1.0, min(1.0, -excess / slope))
        trials.at(trials.field.flow * math.exp(step))
        excess = trials.excess(wanted)
        if abs(step) > MET:
            slope = min(max((excess - before) / step, 0.1), 3.0)
    return slope


def flow_at_force(start: Field, grip: float) -> Field:
    """Field at the flow at which the estimated feeding force equals `grip` [N], the sensor at the setpoint.

    The force rises with the flow: more shear, and a colder core. The flow is bracketed from that of `start`,
    then closed in on; every trial starts from the one before. Raises NoConvergence where no flow within a
    factor of 400 either way meets the grip, ValueError where the polymer has no viscosity.
    """
    trials = _Trials(start, 0)
    excess = trials.excess(grip)
    for _ in range(TRIALS):
        near, before = trials.field.flow, excess
        field = trials.at(near * STRIDE ** math.copysign(1.0, -excess))
        excess = trials.excess(grip)
        if excess * before <= 0.0:
            return _between(trials, grip, near, field.flow)
    raise GripOutOfReach(grip, trials.field.flow, feeding(trials.field).force)


def _between(trials: _Trials, grip: float, first: float, second: float) -> Field:
    def excess(log_flow: float) -> float:
        trials.at(math.exp(log_flow))
        return trials.excess(grip)

    low, high = sorted((math.log(first), math.log(second)))
    found = trials.at(math.exp(brentq(excess, low, high, xtol=CLOSE)))
    return replace(found, factorisations=trials.spent)
