"""What is asked of time: warming up, cooling with the heater off, steps in flow and fan, how long a burst may last."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from meltzone.fem.faults import NoConvergence, WorkingFlowTooHigh
from meltzone.fem.field import Field
from meltzone.fem.in_time.course import Regime, course_of
from meltzone.fem.in_time.history import History, history_of
from meltzone.fem.in_time.storage import stores_of
from meltzone.fem.in_time.timestep import Drive
from meltzone.fem.in_time.transient import Event, Pace, march, start_of
from meltzone.fem.limits import melt_ceiling
from meltzone.fem.newton import State, bordered
from meltzone.fem.problem import Problem
from meltzone.fem.progress import TimeReporter
from meltzone.fem.sensor import held_metal
from meltzone.fem.steady import solve_at_flow
from meltzone.fem.system import System
from meltzone.fem.threads import one_thread

WITHIN = 1.0  # the sensor counts as warmed up this close to the setpoint [K]
LONGEST_WARM_UP = 3600.0  # [s]
AFTER = 0.5  # a warm-up is followed for this share of its time longer
QUANTITIES = ("sensor", "tip", "mean", "inner", "core", "power")


@dataclass(frozen=True, eq=False)
class WarmUp:
    """From cold with the heater fully on: `reached` is when the sensor is within 1 K of the setpoint [s], None if never.

    `melted` is when the judged temperature first passes the flow temperature, nothing flowing [s].
    """

    problem: Problem
    history: History
    reached: float | None

    @property
    def melted(self) -> float | None:
        """See above."""
        return self.history.first_time("judged", self.problem.materials.polymer.flow_temperature)

    @property
    def ready(self) -> float | None:
        """When both have come about [s]."""
        return None if self.reached is None or self.melted is None else max(self.reached, self.melted)


@dataclass(frozen=True, eq=False)
class Response:
    """The answer to `changes`: steady fields `before` the first and long `after` the last one, None where there is none."""

    problem: Problem
    changes: tuple[Regime, ...]
    history: History
    before: Field
    after: Field | None

    def settling(self, name: str, share: float) -> float | None:
        """Time from the last change until a quantity has covered `share` of its way to the steady end for good [s].

        The way counts from the value at the last change. None where there is no steady end, no way of note, or not
        enough time.
        """
        if self.after is None:
            return None
        times, values, last = self.history.of("time"), self.history.of(name), self.changes[-1].time
        end = float(getattr(self.after, name))
        begin = float(np.interp(last, times, values))
        if abs(end - begin) < 0.05:
            return None
        away = np.abs(values - end) - (1.0 - share) * abs(end - begin)
        outside = np.flatnonzero((away > 0.0) & (times >= last - 1e-9))
        k = int(outside[-1]) if outside.size else 0
        if k + 1 >= times.size:
            return None
        part = away[k] / (away[k] - away[k + 1])
        return float(times[k] + part * (times[k + 1] - times[k]) - last)


@dataclass(frozen=True, eq=False)
class Burst:
    """A burst of `flow` [m3/s] out of the steady state at the `working` flow, against the steady `ceiling`.

    It `lasts` until the judged temperature falls below the flow temperature [s]; None where it does not in the time given.
    """

    problem: Problem
    working: float
    flow: float
    ceiling: float | None
    history: History
    lasts: float | None

    @property
    def volume(self) -> float | None:
        """What is extruded by then, as filament [m3]."""
        return None if self.lasts is None else self.flow * self.lasts


@dataclass(frozen=True, eq=False)
class CoolDown:
    """The heater off out of the steady state at a `flow` [m3/s] that goes on.

    `lasts` is when the sensor passes the temperature looked for [s], None where it does not.
    """

    problem: Problem
    flow: float
    history: History
    lasts: float | None


@dataclass(frozen=True, eq=False)
class Pause:
    """A pause out of the steady state at the `working` flow [m3/s], the sensor held at its setpoint.

    It `lasts` until what was looked for comes about [s]; None where it does not in the time given.
    """

    problem: Problem
    working: float
    history: History
    lasts: float | None


def controller(system: System) -> Drive:
    """The heater held by the sensor, between nothing and its rating."""
    operation = system.problem.operation
    return Drive(system.sensor, held_metal(system.problem), 0.0, operation.rating)


@one_thread()
def warm_up(
    system: System, duration: float | None = None, pace: Pace | None = None, report: TimeReporter | None = None
) -> WarmUp:
    """Heat `system` from the air's temperature, the passage full of polymer at rest; at most for `duration` [s].

    Raises NoConvergence.
    """
    problem, stores, drive = system.problem, stores_of(system), controller(system)
    longest = duration or LONGEST_WARM_UP
    cold = np.full(system.space.size, problem.surroundings.air_temperature)
    start = start_of(system, stores, cold, 0.0, drive.highest)
    change = Regime(0.0, 0.0, problem.surroundings)

    def short(temperature: np.ndarray) -> float:
        return drive.miss(temperature) + WITHIN

    course = course_of(system, [change], longest)
    history = history_of(course[0], start, march(course, stores, start, drive, pace, short), report)
    if abs(short(history.last.temperature)) > 0.01:
        return WarmUp(problem, history, None)
    reached = history.last.time
    end = duration or (1.0 + AFTER) * reached
    if end > reached:
        course = course_of(system, [change], end)
        rest = history_of(course[0], history.last, march(course, stores, history.last, drive, pace), report)
        history = history.then(rest)
    return WarmUp(problem, history, reached)


@one_thread()
def cool_down(system: System, flow: float, target: float, longest: float, pace: Pace | None = None) -> CoolDown:
    """Switch the heater off at 0 s in the steady state at `flow` [m3/s], up to `longest` [s] or the sensor at `target` [K].

    Raises NoConvergence, ValueError for a target that is not below the setpoint.
    """
    problem, stores = system.problem, stores_of(system)
    if target >= problem.operation.setpoint:
        raise ValueError("the sensor cools below the setpoint only")
    course = course_of(system, [Regime(0.0, flow, problem.surroundings)], longest)
    before = _steady(course[0].system, course[0].flow)
    start = start_of(course[0].system, stores, before.temperature, 0.0, before.power)

    def above(temperature: np.ndarray) -> float:
        return system.sensor.of(temperature) - target

    steps = march(course, stores, start, controller(system).pinned(0.0), pace, above)
    history = history_of(course[0], start, steps)
    met = abs(above(history.last.temperature)) < 0.01
    return CoolDown(problem, flow, history, history.last.time if met else None)


@one_thread()
def respond(
    system: System, changes: Sequence[Regime], end: float, pace: Pace | None = None, report: TimeReporter | None = None
) -> Response:
    """The answer of `system` to `changes` up to `end` [s], from the steady state under the first of them.

    Raises NoConvergence, ValueError for times that do not rise.
    """
    before, history = _followed(system, changes, end, pace, None, report)
    return Response(system.problem, tuple(changes), history, before, _long_after(history))


@one_thread()
def burst(
    system: System,
    working: float,
    flow: float,
    longest: float,
    pace: Pace | None = None,
    report: TimeReporter | None = None,
) -> Burst:
    """How long `flow` may last out of the steady state at the `working` flow [m3/s]; looked for up to `longest` [s].

    Raises NoConvergence, also where the working flow itself does not melt through.
    """
    problem = system.problem
    operation, threshold = problem.operation, problem.materials.polymer.flow_temperature
    judged = system.judged_by(operation.criterion)
    changes = [Regime(-1.0, working, problem.surroundings), Regime(0.0, flow, problem.surroundings)]
    before, history = _followed(system, changes, longest, pace, lambda t: judged.of(t) - threshold, report)
    if judged.of(before.temperature) <= threshold:
        raise WorkingFlowTooHigh(working, operation.criterion, judged.of(before.temperature), threshold)
    met = abs(judged.of(history.last.temperature) - threshold) < 0.01
    try:
        ceiling: float | None = melt_ceiling(system, before.state).flow
    except NoConvergence:
        ceiling = None
    return Burst(problem, working, flow, ceiling, history, history.last.time if met else None)


@one_thread()
def pause(
    system: System,
    working: float,
    until: Event,
    longest: float,
    pace: Pace | None = None,
    report: TimeReporter | None = None,
) -> Pause:
    """How long the flow may stop out of the steady state at the `working` flow [m3/s]; looked for up to `longest` [s].

    `until` is below zero at first, and ends the pause where it comes to zero. Raises NoConvergence.
    """
    around = system.problem.surroundings
    changes = [Regime(-1.0, working, around), Regime(0.0, 0.0, around)]
    _, history = _followed(system, changes, longest, pace, until, report)
    met = abs(until(history.last.temperature)) < 0.01
    return Pause(system.problem, working, history, history.last.time if met else None)


def _followed(
    system: System,
    changes: Sequence[Regime],
    end: float,
    pace: Pace | None,
    until: Event | None,
    report: TimeReporter | None,
) -> tuple[Field, History]:
    course, stores, drive = course_of(system, changes, end), stores_of(system), controller(system)
    first = course[0]
    before = _steady(first.system, first.flow)
    start = start_of(first.system, stores, before.temperature, first.start, before.power)
    return before, history_of(first, start, march(course, stores, start, drive, pace, until), report)


def _long_after(history: History) -> Field | None:
    """The steady state that the end of `history` runs towards."""
    try:
        return _steady(history.phase.system, history.phase.flow, history.field.state)
    except NoConvergence:
        return None


def _steady(system: System, flow: float, near: State | None = None) -> Field:
    """The steady state at `flow` [m3/s]: the sensor at the setpoint, or the heater at its rating where that is too little."""
    field, rating = solve_at_flow(system, flow), system.problem.operation.rating
    if field.power <= rating:
        return field
    start = near or field.state
    state = State(start.temperature, flow, rating)
    return Field.of(bordered(system, state, (), ()))
