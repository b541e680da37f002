"""The heat balance in time: adaptive steps through the phases of a course, events met to the millikelvin."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from meltzone.fem.faults import NoConvergence
from meltzone.fem.in_time.control import MET, Control
from meltzone.fem.in_time.course import Phase
from meltzone.fem.in_time.storage import HeatStore, stored_heat
from meltzone.fem.in_time.timestep import GAMMA, Drive, Instant, Kept, TimeStep, stepped
from meltzone.fem.space import Space
from meltzone.fem.system import System

Event = Callable[[np.ndarray], float]  # of the unknowns (size,) [K]; its change of sign is looked for [K]

CLOSE = 1e-3  # of the error allowed in a step: where the iterations within it end
FIRST = 0.02  # first step after a change [s]
SHORTEST = 1e-7  # a step this short that still fails is a failure [s]
KEEP = 1.35  # a step that may grow by no more than this keeps its length, and with it the factors
GROW, SHRINK = 2.5, 0.2
SAFETY = 0.9
TRIALS = 12


@dataclass(frozen=True)
class Pace:
    """How finely time is divided: error of a step [K], and the `longest` step [s].

    The error is the root of the mean square over the volume of the part where it is largest.
    """

    tolerance: float = 0.02
    longest: float = math.inf


@dataclass(frozen=True, eq=False)
class _March:
    """What all steps share: the heat stores, the pace, the factors, and the event that ends it."""

    stores: tuple[HeatStore, ...]
    pace: Pace
    kept: Kept
    until: Event | None
    sign: float


def start_of(
    system: System, stores: tuple[HeatStore, ...], temperature: np.ndarray, time: float, power: float
) -> Instant:
    """The start of a march: `temperature` (size,) [K] at `time` [s], with the heater at `power` [W]."""
    return Instant(time, temperature, stored_heat(system.space, stores, temperature), power)


def march(
    course: tuple[Phase, ...],
    stores: tuple[HeatStore, ...],
    start: Instant,
    drive: Drive,
    pace: Pace | None = None,
    until: Event | None = None,
) -> Iterator[tuple[Phase, TimeStep]]:
    """Steps through the `course` from `start`, each with its phase; ends with the course, or where `until` changes sign.

    The heater is `drive`: where its power comes to a bound it stays there until the sensor meets the target, an event that
    a step ends on. Raises NoConvergence.
    """
    sign = math.copysign(1.0, until(start.temperature)) if until else 1.0
    pace = pace or Pace()
    whole = _March(stores, pace, Kept(close=CLOSE * pace.tolerance), until, sign)
    point, control = start, Control.of(drive, start)
    for phase in course:
        point, length = replace(point, residual=None), FIRST
        while phase.end - point.time > 1e-9 * max(abs(phase.end), 1.0):
            mode, floor = control.mode(length, point)
            tried, following = _accurate(whole, phase, point, mode, max(length, floor), max(floor, SHORTEST))
            step = _met(whole, phase, tried, mode, control)
            yield phase, step
            if until and sign * until(step.end.temperature) <= MET:
                return
            length = following if step is tried else length
            control, point = control.after(step), step.end


def _accurate(
    whole: _March, phase: Phase, point: Instant, mode: Drive, length: float, floor: float
) -> tuple[TimeStep, float]:
    """The next step whose error is small enough, tried at `length` [s] first, and the length to try after it.

    Steps of `floor` [s] count as accurate.
    """
    while True:
        length = _fitting(min(max(length, floor), whole.pace.longest), phase.end - point.time)
        try:
            step = _tried(whole, phase, point, mode, length)
        except NoConvergence:
            if length < SHORTEST:
                raise
            length, floor = SHRINK * length, SHORTEST
            continue
        error = _size(phase.system.space, step.error)
        share = SAFETY * (whole.pace.tolerance / max(error, 1e-12)) ** (1.0 / 3.0)
        if share >= SAFETY or length <= floor:
            return step, length if share < KEEP else length * min(share, GROW)
        length *= max(share, SHRINK)


def _fitting(length: float, left: float) -> float:
    """The `length`, or what lets the time `left` end without a step that is much shorter than the others [s]."""
    if left <= length * (1.0 + 1e-9):
        return left
    return left / 2.0 if left < 2.0 * length else length


def _tried(whole: _March, phase: Phase, point: Instant, mode: Drive, length: float) -> TimeStep:
    systems = tuple(phase.at(point.time + share * length, point.temperature) for share in (GAMMA, 1.0))
    return stepped((systems[0], systems[1]), phase.flow, whole.stores, point, length, mode, whole.kept)


def _met(whole: _March, phase: Phase, step: TimeStep, mode: Drive, control: Control) -> TimeStep:
    """`step`, or the shorter one that ends where the first event is met: inverse interpolation, with a bracket."""

    def room(temperature: np.ndarray) -> float:
        gaps = [whole.sign * whole.until(temperature)] if whole.until else []
        if control.bound is not None:
            gaps.append(control.room(control.drive.miss(temperature)))
        return min(gaps, default=math.inf)

    low, high = (0.0, room(step.start.temperature)), (step.length, room(step.end.temperature))
    for _ in range(TRIALS):
        if high[1] >= -MET:
            break
        share = min(max(low[1] / (low[1] - high[1]), 0.02), 0.98)
        trial = _tried(whole, phase, step.start, mode, low[0] + share * (high[0] - low[0]))
        reached = (trial.length, room(trial.end.temperature))
        if reached[1] > MET:
            low = reached
        else:
            high, step = reached, trial
    return step


def _size(space: Space, error: np.ndarray) -> float:
    """Root of the mean square of `error` (size,) over a part's volume, for the part where it is largest [K]."""
    cells = space.cells
    squares = (error[cells.dofs] @ cells.values) ** 2 * cells.volume
    means = []
    for part in space.section.parts:
        chosen = space.cells_of(part)
        if chosen.size:
            means.append(float(squares[chosen].sum() / cells.volume[chosen].sum()))
    return math.sqrt(max(means))
