"""One step in time: two implicit stages of second order, the heater's power found by the way, an estimate of the error."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.sparse.linalg import SuperLU

from meltzone.fem.balance import EnergyBalance, audit_of
from meltzone.fem.linearise import Linearisation
from meltzone.fem.newton import NoConvergence
from meltzone.fem.sparse import factorised
from meltzone.fem.storage import Store, stored_heat, stored_slope
from meltzone.fem.system import Measure, System

GAMMA = 1.0 - math.sqrt(
    0.5
)  # both stages' share of the step; makes the method of order 2, stiffly accurate and L-stable
WEIGHTS = (1.0 - GAMMA, GAMMA)
# b2 + b3 + b0 = 1, GAMMA b2 + b3 = 1/2, GAMMA^2 b2 + b3/2 = 1/6 give a companion of order 3 for linear balances
_SECOND = (1.0 / 12.0) / (GAMMA / 2.0 - GAMMA**2)
_THIRD = 0.5 - GAMMA * _SECOND
ERROR_WEIGHTS = (1.0 - _SECOND - _THIRD, _SECOND - WEIGHTS[0], _THIRD - WEIGHTS[1])
CLOSE = 1e-4  # largest change that ends an iteration [K]; it leaves a hundredth of that, and of the error allowed
ITERATIONS = 14
SLOW = 0.3  # a step of the iteration that gains less asks for new factors


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

    def answer(self, power: float, aim: np.ndarray, gain: np.ndarray) -> float:
        """The power [W] that holds the sensor, where `aim` (size,) [K] is reached with `power`, and `gain` (size,) [K/W]."""
        if self.fixed:
            return self.highest
        return float(np.clip(power - self.miss(aim) / self.sensor.of(gain), self.lowest, self.highest))


@dataclass(frozen=True, eq=False)
class Point:
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
class Step:
    """A step from `start` to `end` by way of two `stages`; `error` (size,) [K] is the estimate of what it got wrong."""

    start: Point
    end: Point
    stages: tuple[Stage, Stage]
    error: np.ndarray

    @property
    def length(self) -> float:
        """Length of the step [s]."""
        return self.end.time - self.start.time

    @property
    def power(self) -> float:
        """Mean heater power over the step [W]."""
        return sum(w * stage.power for w, stage in zip(WEIGHTS, self.stages, strict=True))


@dataclass(eq=False)
class Kept:
    """Factors kept from stage to stage: those of slope/`scale` + tangent, and `gain` (size,) [K/W], the answer to 1 W."""

    scale: float = 0.0
    lu: SuperLU | None = None
    gain: np.ndarray = field(default_factory=lambda: np.zeros(0))
    count: int = 0

    def renew(self, here: Linearisation, slope: np.ndarray, scale: float) -> None:
        """Factorise for the element matrices `slope` (n_cells, 9, 9) [J/K] over `scale` [s] added to the tangent."""
        system = here.system
        entries = [here.entries[0] + slope / scale, *here.entries[1:]]
        source = system.source.copy()
        source[system.inlet] = 0.0
        self.lu = factorised(replace(here, entries=entries).tangent())
        self.scale, self.gain, self.count = scale, self.lu.solve(source), self.count + 1


def stepped(
    systems: tuple[System, System],
    flow: float,
    stores: tuple[Store, ...],
    start: Point,
    length: float,
    drive: Drive,
    kept: Kept,
) -> Step:
    """One step of `length` [s] from `start` with the `systems` of both stages; raises NoConvergence.

    For d/dt E(T) + R(T) = 0 the stages Y solve E(Y1) = E(T0) - g dt R(Y1) and
    E(Y2) = E(T0) - (1 - g) dt R(Y1) - g dt R(Y2), and Y2 is the end. Source: the two-stage, singly diagonally implicit
    method with g = 1 - 1/sqrt(2) (Alexander 1977, SIAM J. Numer. Anal. 14:1006-1021, from memory). Enthalpy and not
    temperature is carried on, so that the heat balance of a step closes whatever its length.
    """
    scale = GAMMA * length
    first = _stage(systems[0], flow, stores, (start.heat, scale), (start.temperature, start.power), drive, kept)
    carried = start.heat - WEIGHTS[0] * length * first.here.residual
    ahead = start.temperature + (first.temperature - start.temperature) / GAMMA
    second = _stage(systems[1], flow, stores, (carried, scale), (ahead, first.power), drive, kept)
    begun = start.residual
    if begun is None:
        begun = Linearisation.at(systems[0], start.temperature, flow, first.power).residual
    wrong = sum(w * r for w, r in zip(ERROR_WEIGHTS, (begun, first.here.residual, second.here.residual), strict=True))
    assert kept.lu is not None and isinstance(wrong, np.ndarray)
    wrong[systems[0].inlet] = 0.0
    end = Point(start.time + length, second.temperature, second.heat, second.power, second.here.residual)
    return Step(start, end, (first, second), kept.lu.solve(-wrong / GAMMA))


def _stage(
    system: System,
    flow: float,
    stores: tuple[Store, ...],
    known: tuple[np.ndarray, float],
    guess: tuple[np.ndarray, float],
    drive: Drive,
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
        if left < CLOSE:
            return Stage(temperature, heat, power, here, flow)
        if (
            kept.lu is None
            or not math.isclose(kept.scale, scale, rel_tol=1e-9)
            or (before < math.inf and left > SLOW * before)
        ):
            kept.renew(here, stored_slope(system.space, stores, temperature), scale)
        assert kept.lu is not None
        missing = (heat - carried) / scale + here.residual
        missing[system.inlet] = 0.0
        base = kept.lu.solve(-missing)
        wanted = drive.answer(power, temperature + base, kept.gain)
        move = base + (wanted - power) * kept.gain
        temperature, power = temperature + move, wanted
        before, left = left, float(np.abs(move).max())
        if not math.isfinite(left):
            break
    raise NoConvergence(f"no convergence in a step of {scale / GAMMA:.2g} s")
