"""One step in time: two implicit stages of second order, the heater's power found by the way, an estimate of the error."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.sparse.linalg import SuperLU

from meltzone.fem.balance import EnergyBalance, audit_of
from meltzone.fem.faults import StepNotSolved
from meltzone.fem.in_time.storage import HeatStore, stored_heat, stored_slope
from meltzone.fem.linearise import Linearisation
from meltzone.fem.sparse import factorised, scatter
from meltzone.fem.system import Measure, System

GAMMA = 1.0 - math.sqrt(
    0.5
)  # both stages' share of the step; makes the method of order 2, stiffly accurate and L-stable
WEIGHTS = (1.0 - GAMMA, GAMMA)
# b2 + b3 + b0 = 1, GAMMA b2 + b3 = 1/2, GAMMA^2 b2 + b3/2 = 1/6 give a companion of order 3 for linear balances
_SECOND = (1.0 / 12.0) / (GAMMA / 2.0 - GAMMA**2)
_THIRD = 0.5 - GAMMA * _SECOND
ERROR_WEIGHTS = (1.0 - _SECOND - _THIRD, _SECOND - WEIGHTS[0], _THIRD - WEIGHTS[1])
ITERATIONS = 20
CORRECTIONS = 8  # of the power within a step
SLOW = 0.15  # a step of the iteration that gains less asks for new factors


@dataclass(frozen=True, eq=False)
class Drive:
    """What the heater does: the power between `lowest` and `highest` [W] that holds `sensor` at `target` [K], or a fixed one.

    This is an ideal controller: where the power it would take lies outside the bounds, the nearer bound is given and the
    sensor runs free.
    """

    sensor: Measure
    target: float
    lowest: float
    highest: float

    def pinned(self, power: float) -> Drive:
        """The heater at a fixed `power` [W]."""
        return replace(self, lowest=power, highest=power)

    @property
    def fixed(self) -> bool:
        """Whether there is nothing to find."""
        return self.lowest == self.highest

    def miss(self, temperature: np.ndarray) -> float:
        """Sensor less target, for the unknowns `temperature` (size,) [K]."""
        return self.sensor.of(temperature) - self.target

    def answer(self, power: float, miss: float, reach: np.ndarray) -> float:
        """The power [W] that meets the target where `power` misses it by `miss` [K], and 1 W gives `reach` (size,) [K/W]."""
        if self.fixed:
            return self.highest
        answer = self.sensor.of(reach)
        if answer <= 0.0:  # no heat from the heater gets there within the step
            return self.highest if miss < 0.0 else self.lowest
        return float(np.clip(power - miss / answer, self.lowest, self.highest))


@dataclass(frozen=True, eq=False)
class Instant:
    """A state in time [s]: `temperature` (size,) [K], `heat` stored (size,) [J], heater `power` [W].

    `residual` (size,) [W] is that of the steady balance, positive where heat leaves; None where the state has just
    been met by a step in flow or surroundings.
    """

    time: float
    temperature: np.ndarray
    heat: np.ndarray
    power: float
    residual: np.ndarray | None = None


@dataclass(frozen=True, eq=False)
class Stage:
    """A solved stage: temperatures (size,) [K], heat stored (size,) [J], power [W], the steady balance there."""

    temperature: np.ndarray
    heat: np.ndarray
    power: float
    here: Linearisation
    flow: float

    @property
    def balance(self) -> EnergyBalance:
        """Heat flows at the stage [W]."""
        return audit_of(self.here, self.temperature, self.flow, self.power)


@dataclass(frozen=True, eq=False)
class TimeStep:
    """A step from `start` to `end` by way of two `stages`; `error` (size,) [K] is the estimate of what it got wrong."""

    start: Instant
    end: Instant
    stages: tuple[Stage, Stage]
    error: np.ndarray

    @property
    def length(self) -> float:
        """Length of the step [s]."""
        return self.end.time - self.start.time

    @property
    def power(self) -> float:
        """Heater power over the step [W]."""
        return self.end.power


@dataclass(eq=False)
class Kept:
    """Factors kept from step to step: those of slope/`scale` + tangent, and what 1 W more does, `gain` and `reach`.

    Both (size,) [K/W]: `gain` in the first stage, `reach` at the end of the step. An iteration ends with a change below
    `close` [K].
    """

    close: float = 1e-5
    scale: float = 0.0
    lu: SuperLU | None = None
    gain: np.ndarray = field(default_factory=lambda: np.zeros(0))
    reach: np.ndarray = field(default_factory=lambda: np.zeros(0))

    def renew(self, here: Linearisation, slope: np.ndarray, scale: float) -> None:
        """Factorise for the element matrices `slope` (n_cells, 9, 9) [J/K] over `scale` [s] added to the tangent."""
        system, dofs = here.system, here.system.space.cells.dofs
        slope = slope / scale
        self.lu = factorised(here.tangent(slope))
        source = system.source.copy()
        source[system.inlet] = 0.0
        self.scale, self.gain = scale, self.lu.solve(source)
        held = scatter([np.einsum("eij,ej->ei", slope, self.gain[dofs])], [dofs], system.space.size)
        held[system.inlet] = 0.0
        self.reach = self.lu.solve(source + (WEIGHTS[0] / GAMMA) * held)


def stepped(
    systems: tuple[System, System],
    flow: float,
    stores: tuple[HeatStore, ...],
    start: Instant,
    length: float,
    drive: Drive,
    kept: Kept,
) -> TimeStep:
    """One step of `length` [s] from `start` with the `systems` of both stages, the power the same in both.

    For d/dt E(T) + R(T) = 0 the stages Y solve E(Y1) = E(T0) - g dt R(Y1) and
    E(Y2) = E(T0) - (1 - g) dt R(Y1) - g dt R(Y2), and Y2 is the end. Source: the two-stage, singly diagonally implicit
    method with g = 1 - 1/sqrt(2) (Alexander 1977, SIAM J. Numer. Anal. 14:1006-1021, from memory). Enthalpy and not
    temperature is carried on, so that the heat balance of a step closes whatever its length. Raises NoConvergence.
    """
    scale, power = GAMMA * length, float(np.clip(start.power, drive.lowest, drive.highest))
    near, ahead = start.temperature, None
    for _ in range(CORRECTIONS):
        first = _stage(systems[0], flow, stores, (start.heat, scale), (near, power), kept)
        carried = start.heat - WEIGHTS[0] * length * first.here.residual
        if ahead is None:
            ahead = start.temperature + (first.temperature - start.temperature) / GAMMA
        second = _stage(systems[1], flow, stores, (carried, scale), (ahead, power), kept)
        miss = 0.0 if drive.fixed else drive.miss(second.temperature)
        more = drive.answer(power, miss, kept.reach) - power
        if abs(more) * float(np.abs(kept.reach).max()) < kept.close:
            break
        near, ahead = first.temperature + more * kept.gain, second.temperature + more * kept.reach
        power += more
    end = Instant(start.time + length, second.temperature, second.heat, power, second.here.residual)
    return TimeStep(start, end, (first, second), _error(systems[0], flow, start, (first, second), kept))


def _error(system: System, flow: float, start: Instant, stages: tuple[Stage, Stage], kept: Kept) -> np.ndarray:
    """What the companion of order 3 makes of the step less the step itself, seen through the same factors: (size,) [K]."""
    begun = start.residual
    if begun is None:
        begun = Linearisation.at(system, start.temperature, flow, stages[0].power).residual
    else:  # the power may have jumped
        begun = begun - (stages[0].power - start.power) * system.source
    at_stages = (stage.here.residual for stage in stages)
    wrong = np.zeros(system.space.size)
    for weight, residual in zip(ERROR_WEIGHTS, (begun, *at_stages), strict=True):
        wrong += weight * residual
    wrong[system.inlet] = 0.0
    assert kept.lu is not None
    return kept.lu.solve(-wrong / GAMMA)


def _stage(
    system: System,
    flow: float,
    stores: tuple[HeatStore, ...],
    known: tuple[np.ndarray, float],
    guess: tuple[np.ndarray, float],
    kept: Kept,
) -> Stage:
    """Solve (E(Y) - carried) / scale + R(Y, P) = 0 by Newton's iteration, old factors used while they serve."""
    (carried, scale), (temperature, power) = known, guess
    temperature = temperature.copy()
    temperature[system.inlet] = system.problem.operation.inlet_temperature
    before = left = math.inf
    for _ in range(ITERATIONS):
        here = Linearisation.at(system, temperature, flow, power)
        heat = stored_heat(system.space, stores, temperature)
        if left < kept.close:
            return Stage(temperature, heat, power, here, flow)
        stale = not math.isclose(kept.scale, scale, rel_tol=1e-9) or (before < math.inf and left > SLOW * before)
        if kept.lu is None or stale:
            kept.renew(here, stored_slope(system.space, stores, temperature), scale)
        assert kept.lu is not None
        missing = (heat - carried) / scale + here.residual
        missing[system.inlet] = 0.0
        move = kept.lu.solve(-missing)
        temperature = temperature + move
        before, left = left, float(np.abs(move).max())
        if not math.isfinite(left):
            break
    raise StepNotSolved(scale / GAMMA)
