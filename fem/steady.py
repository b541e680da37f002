"""Steady fields that hold conditions: the sensor at its setpoint, at a given flow or at one that is found with it."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from meltzone.fem.discretise import shaped_system
from meltzone.fem.faults import NoConvergence
from meltzone.fem.field import Field
from meltzone.fem.guess import first_guess
from meltzone.fem.newton import Condition, Scalar, State, bordered
from meltzone.fem.problem import Problem
from meltzone.fem.sensor import held_metal
from meltzone.fem.system import System
from meltzone.fem.threads import one_thread


@dataclass(frozen=True)
class Held:
    """A condition that a steady field meets: `at` gives it on a system, about a state where it is not linear.

    For one that is not, `missed` tells by how much another problem misses it at the temperatures of a field, whose unknowns lie
    at given points (2, size) [m].
    """

    at: Callable[[System, State | None], Condition]
    missed: Callable[[Problem, Field, np.ndarray], float] | None = None

    @property
    def is_linear(self) -> bool:
        """Whether it is the same about every state."""
        return self.missed is None


TRICKLE = 1e-11  # the flow that stands for none: 0.01 mm3/s [m3/s]
WIDE = 30.0  # width of a melting peak from which the narrowing begins: about that of the shipped cards [K]
SHARP = 15.0  # a narrower peak than this is sought through wider ones at once where the direct way fails [K]
SMALLEST_STEP = 0.98  # of the width: where even this step fails the narrowing is given up [-]
FARTHEST = 3.0  # ceilings beyond this multiple of the melt ceiling are of no use to anyone


def _at_setpoint(system: System, _: State | None) -> Condition:
    return Condition(system.sensor, held_metal(system.problem))


def _just_molten(system: System, _: State | None) -> Condition:
    problem = system.problem
    return Condition(system.judged_by(problem.operation.criterion), problem.materials.polymer.flow_temperature)


def _gripped(system: System, state: State | None) -> Condition:
    from meltzone.fem.slow_flow.gripping import grip_condition  # loaded only where a force is sought

    assert state is not None, "a force is linearised about a state"
    return grip_condition(system, state)


def _grip_missed(problem: Problem, field: Field, points: np.ndarray) -> float:
    from meltzone.fem.slow_flow.gripping import grip_miss  # loaded only where a force is sought

    return grip_miss(problem, field, points)


AT_SETPOINT = Held(_at_setpoint)  # the sensor at the setpoint
JUST_MOLTEN = Held(_just_molten)  # the judged temperature at the flow temperature
GRIPPED = Held(_gripped, _grip_missed)  # pushing takes all of the feeder's grip


def conditions_of(system: System, held: tuple[Held, ...], state: State | None = None) -> tuple[Condition, ...]:
    """The conditions `held` on `system`, about the `state` where one of them is not linear."""
    return tuple(each.at(system, state) for each in held)


def steady(system: System, start: State, free: tuple[Scalar, ...], held: tuple[Held, ...]) -> Field:
    """Field that meets the conditions `held`, from `start`, and from its velocity where it is a state of the same problem.

    A shaped velocity and a force are fitted at every step, a solved velocity in turns with the temperatures.
    Raises NoConvergence.
    """
    return Field.of(_solved(*_entering(system, start), free, held))


def narrowed(system: System, start: State, free: tuple[Scalar, ...], held: tuple[Held, ...]) -> Field:
    """The same by continuation in the width of the polymer's melting peak, for where the way from `start` is too steep.

    A wide peak is solved first, then narrower ones, each from the last, in steps of the width that shrink where one fails.
    Raises NoConvergence.
    """
    problem, (system, state) = system.problem, _entering(system, start)
    least, share = problem.materials.polymer.melting_width, 0.5

    def solved(width: float, near: State) -> State:
        posed = (near.system or system).moving(problem=_melting_over(problem, width))
        return _solved(posed, near, free, held)

    width, state = _first_solved(solved, replace(state, system=system), max(WIDE, 2.0 * least))
    while width > least:
        narrower = max(share * width, least)
        try:
            state, width = solved(narrower, state), narrower
        except NoConvergence:
            share = share**0.5
            if share > SMALLEST_STEP:
                raise
    return Field.of(state)


def is_sharp(problem: Problem) -> bool:
    """Whether the polymer melts over so few kelvins that wide peaks are to be tried before anything slower."""
    polymer = problem.materials.polymer
    return polymer.melting_enthalpy > 0.0 and polymer.melting_width < SHARP


def surely(system: System, start: State, free: tuple[Scalar, ...], held: tuple[Held, ...]) -> Field:
    """As `steady`, and `narrowed` where that fails. Raises NoConvergence."""
    try:
        return steady(system, start, free, held)
    except NoConvergence:
        if system.problem.materials.polymer.melting_enthalpy == 0.0:
            raise
        return narrowed(system, start, free, held)


def _first_solved(solved: Callable[[float, State], State], start: State, width: float) -> tuple[float, State]:
    """The least of ever wider peaks from `width` [K] on that is solved, with its state; raises NoConvergence where none is."""
    for times in (1.0, 4.0):
        with suppress(NoConvergence):
            return times * width, solved(times * width, start)
    return 16.0 * width, solved(16.0 * width, start)


def _melting_over(problem: Problem, width: float) -> Problem:
    """The problem with its melting peak `width` [K] wide."""
    polymer = problem.materials.polymer
    if width == polymer.melting_width:
        return problem
    materials = replace(problem.materials, polymer=replace(polymer, melting_width=width))
    return replace(problem, materials=materials)


def _entering(system: System, start: State) -> tuple[System, State]:
    """The system with the velocity of `start`, if that is of the same problem, and the filament entering as cold as there."""
    if start.system is not None and start.system.problem is system.problem:
        system = start.system
    entering = start.temperature.copy()  # the start may be the state of a problem whose filament enters colder
    entering[system.inlet] = system.problem.operation.inlet_temperature
    return system, replace(start, temperature=entering)


def _solved(system: System, start: State, free: tuple[Scalar, ...], held: tuple[Held, ...]) -> State:
    profile = system.problem.operation.profile
    if profile == "solved":
        from meltzone.fem.slow_flow.coupled import coupled  # loaded only where the slow flow is solved

        def again(moving: System, state: State) -> tuple[System, tuple[Condition, ...]]:
            return moving, conditions_of(moving, held, state)

        def heat(moving: System, state: State) -> State:
            renewed = None if all(each.is_linear for each in held) else again
            return bordered(moving, state, free, conditions_of(moving, held, state), reshape=renewed)

        return coupled(system, start, heat)

    def reshape(moving: System, state: State) -> tuple[System, tuple[Condition, ...]]:
        shaped = shaped_system(moving, state.temperature, state.flow) if profile == "shaped" else moving
        return shaped, conditions_of(shaped, held, state)

    fitted = reshape if profile == "shaped" or not all(each.is_linear for each in held) else None
    return bordered(system, start, free, conditions_of(system, held, start), reshape=fitted)


@one_thread()
def solve_at_flow(system: System, flow: float, start: State | None = None) -> Field:
    """Field at `flow` [m3/s] with the sensor at the setpoint, from `start` or from cold.

    Raises NoConvergence. A flow of zero stands for 0.01 mm3/s.
    """
    flow = max(flow, TRICKLE)
    state = replace(start, flow=flow, factorisations=0) if start else first_guess(system, flow)
    return surely(system, state, ("power",), (AT_SETPOINT,))
