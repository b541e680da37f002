"""Steady fields that hold conditions: the sensor at its setpoint, at a given flow or at one that is found with it."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from meltzone.fem.build import shaped_system
from meltzone.fem.field import Field
from meltzone.fem.guess import first_guess
from meltzone.fem.inputs import Operation
from meltzone.fem.newton import Condition, NoConvergence, Scalar, State, bordered
from meltzone.fem.problem import Problem
from meltzone.fem.slow_flow.coupled import coupled
from meltzone.fem.system import System

Held = Literal["sensor", "melt", "force"]

TRICKLE = 1e-11  # the flow that stands for none: 0.01 mm3/s [m3/s]
FARTHEST = 3.0  # ceilings beyond this multiple of the melt ceiling are of no use to anyone


class NoCeiling(NoConvergence):
    """There is no such flow, or none was asked for: an answer, where NoConvergence alone is a search that failed."""


def judged_words(operation: Operation) -> str:
    """The criterion in words."""
    return {
        "core": "the core (the axis)",
        "inner": f"the innermost {100.0 * operation.inner_share:.3g} % of the flow",
        "mean": "the mean temperature",
    }[operation.criterion]


def conditions_of(system: System, names: tuple[Held, ...], state: State | None = None) -> tuple[Condition, ...]:
    """Conditions on `system`: "sensor" at the setpoint, "melt" the judged temperature at the flow temperature.

    "force", pushing takes the feeder's grip, is no linear condition: it is linearised about the `state`.
    """
    problem = system.problem
    known = {
        "sensor": Condition(system.sensor, problem.operation.setpoint),
        "melt": Condition(system.judged_by(problem.operation.criterion), problem.materials.polymer.flow_temperature),
    }
    if "force" in names:
        from meltzone.fem.slow_flow.gripping import grip_condition  # noqa: PLC0415  loaded only where a force is sought

        assert state is not None, "a force is linearised about a state"
        known["force"] = grip_condition(system, state)
    return tuple(known[name] for name in names)


def steady(problem: Problem, start: State, free: tuple[Scalar, ...], held: tuple[Held, ...]) -> Field:
    """Field that holds the named conditions, from `start`.

    A shaped velocity and a force are fitted at every step, a solved velocity in turns with the temperatures.
    Raises NoConvergence.
    """
    system = start.system if start.system is not None and start.system.problem is problem else problem.system
    entering = start.temperature.copy()  # the start may be the state of a problem whose filament enters colder
    entering[system.inlet] = problem.operation.inlet_temperature
    start = replace(start, temperature=entering)

    if problem.operation.profile == "solved":

        def again(moving: System, state: State) -> tuple[System, tuple[Condition, ...]]:
            return moving, conditions_of(moving, held, state)

        def heat(moving: System, state: State) -> State:
            renewed = again if "force" in held else None
            return bordered(moving, state, free, conditions_of(moving, held, state), reshape=renewed)

        return Field.of(problem, coupled(system, start, heat))

    def reshape(moving: System, state: State) -> tuple[System, tuple[Condition, ...]]:
        shaped = shaped_system(moving, state.temperature, state.flow) if follows else moving
        return shaped, conditions_of(shaped, held, state)

    follows = problem.operation.profile == "shaped"
    fitted = reshape if follows or "force" in held else None
    return Field.of(problem, bordered(system, start, free, conditions_of(system, held, start), reshape=fitted))


def solve_at_flow(problem: Problem, flow: float, start: State | None = None) -> Field:
    """Field at `flow` [m3/s] with the sensor at the setpoint, from `start` or from cold.

    Raises NoConvergence. A flow of zero stands for 0.01 mm3/s.
    """
    flow = max(flow, TRICKLE)
    state = replace(start, flow=flow, factorisations=0) if start else first_guess(problem, flow)
    return steady(problem, state, ("power",), ("sensor",))
