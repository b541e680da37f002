"""The condition that pushing takes all of the feeder's grip, for the bordered iteration and its adjoint."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from meltzone.fem.field import Field
from meltzone.fem.newton import Condition, State
from meltzone.fem.problem import Problem
from meltzone.fem.slow_flow.feeding import Feeding, feeding
from meltzone.fem.system import Measure, System

KELVIN = 100.0  # that ln(force / grip) = 1 counts as [K]: conditions are held against each other in kelvin


def grip_condition(system: System, state: State) -> Condition:
    """ln(force / grip) = 0, linear about `state`; raises ValueError without a grip, or where the card lacks a number."""
    field = Field.of(replace(state, system=system))
    pushed = feeding(field)
    by_temperature, by_flow = pushed.slopes(state.temperature.size)
    touched = np.flatnonzero(by_temperature)
    measure = Measure(touched, KELVIN / pushed.force * by_temperature[touched])
    missed = _miss(pushed)
    return Condition(measure, measure.of(state.temperature) - missed, KELVIN / pushed.force * by_flow, state.flow)


def grip_miss(problem: Problem, field: Field, points: np.ndarray) -> float:
    """ln(force / grip) of `problem` at the temperatures of `field` whose unknowns lie at `points` (2, size) [m], in kelvin."""
    return _miss(Feeding.at(problem, field, points))


def _miss(pushed: Feeding) -> float:
    grip = pushed.problem.operation.grip
    if grip is None:
        raise ValueError("the problem gives no grip")
    return KELVIN * math.log(pushed.force / grip)
