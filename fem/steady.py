"""Steady fields that hold conditions: the sensor at its setpoint, at a given flow or at one that is found with it."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from meltzone.fem.discretise import shaped_system
from meltzone.fem.field import Field
from meltzone.fem.guess import first_guess
from meltzone.fem.newton import Condition, Scalar, State, bordered
from meltzone.fem.slow_flow.coupled import coupled
from meltzone.fem.system import System

Held = Literal["sensor", "melt"]

TRICKLE = 1e-11  # the flow that stands for none: 0.01 mm3/s [m3/s]
FARTHEST = 3.0  # ceilings beyond this multiple of the melt ceiling are of no use to anyone


def conditions_of(system: System, names: tuple[Held, ...]) -> tuple[Condition, ...]:
    """Conditions on `system`: "sensor" at the setpoint, "melt" the judged temperature at the flow temperature."""
    problem = system.problem
    known = {
        "sensor": Condition(system.sensor, problem.operation.setpoint),
        "melt": Condition(system.judged_by(problem.operation.criterion), problem.materials.polymer.flow_temperature),
    }
    return tuple(known[name] for name in names)


def steady(system: System, start: State, free: tuple[Scalar, ...], held: tuple[Held, ...]) -> Field:
    """Field that holds the named conditions, from `start`, and from its velocity where it is a state of the same problem.

    A shaped velocity is fitted at every step, a solved one in turns with the temperatures. Raises NoConvergence.
    """
    problem = system.problem
    if start.system is not None and start.system.problem is problem:
        system = start.system
    entering = start.temperature.copy()  # the start may be the state of a problem whose filament enters colder
    entering[system.inlet] = problem.operation.inlet_temperature
    start = replace(start, temperature=entering)

    if problem.operation.profile == "solved":

        def heat(moving: System, state: State) -> State:
            return bordered(moving, state, free, conditions_of(moving, held))

        return Field.of(coupled(system, start, heat))

    def reshape(moving: System, state: State) -> tuple[System, tuple[Condition, ...]]:
        shaped = shaped_system(moving, state.temperature, state.flow)
        return shaped, conditions_of(shaped, held)

    fitted = reshape if problem.operation.profile == "shaped" else None
    return Field.of(bordered(system, start, free, conditions_of(system, held), reshape=fitted))


def solve_at_flow(system: System, flow: float, start: State | None = None) -> Field:
    """Field at `flow` [m3/s] with the sensor at the setpoint, from `start` or from cold.

    Raises NoConvergence. A flow of zero stands for 0.01 mm3/s.
    """
    flow = max(flow, TRICKLE)
    state = replace(start, flow=flow, factorisations=0) if start else first_guess(system, flow)
    return steady(system, state, ("power",), ("sensor",))
