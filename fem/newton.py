"""Bordered Newton iteration: temperatures, flow and heater power solved together with the conditions that fix the last two."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from scipy.sparse.linalg import SuperLU

from meltzone.fem.faults import NoConvergence
from meltzone.fem.linearise import Linearisation
from meltzone.fem.sparse import factorised
from meltzone.fem.system import Measure, System

Scalar = Literal["power", "flow"]
Reshape = Callable[[System, "State"], tuple[System, tuple["Condition", ...]]]

TOLERANCE = 1e-9  # of the summed residual, relative to the heat that moves
ROUND_OFF = 1e-7  # below this a residual that no longer falls is round-off, and the state as good as it gets
CHORD_BELOW = 2e-3  # residual under which old factors are worth a try
CHORD_FALL = 0.15  # and the least they must gain in a step
LARGEST_STEP = 3.0  # flow and power change by at most this factor in one step
STEPS = 20
FITTED_STEPS = 60  # a velocity fitted anew after each step closes in slowly where half of the skin is cold
HALVINGS = 8


@dataclass(frozen=True, eq=False)
class State:
    """A point of the iteration: `temperature` (size,) [K], `flow` [m3/s], `power` [W]; `factorisations` spent so far.

    `power_slope` is dP/dQ with the first condition held, as of the last step that freed both scalars [J/m3]; `system` is the
    one that the state solves, set once it has converged.
    """

    temperature: np.ndarray
    flow: float
    power: float
    factorisations: int = 0
    power_slope: float | None = None
    system: System | None = None


@dataclass(frozen=True, eq=False)
class Condition:
    """A linear condition, measure of T + `by_flow` (Q - `about`) = target [K]: sensor at setpoint, core at flow temperature.

    A condition that is not linear is given anew at every step, linear `about` the flow there [m3/s].
    """

    measure: Measure
    target: float
    by_flow: float = 0.0
    about: float = 0.0

    def miss(self, temperature: np.ndarray, flow: float = 0.0) -> float:
        """Value less target [K]; only a condition with `by_flow` needs the `flow`."""
        return self.measure.of(temperature) - self.target + self.by_flow * (flow - self.about)

    def by(self, scalar: Scalar) -> float:
        """Its derivative by one of the scalars [K per unit of the scalar]."""
        return self.by_flow if scalar == "flow" else 0.0

    def along(self, direction: np.ndarray) -> np.ndarray:
        """Change of the measure along a change of the unknowns, `direction` of shape (size,) or (size, n)."""
        return np.asarray(self.measure.weights @ direction[self.measure.dofs])


@dataclass(frozen=True, eq=False)
class Factors:
    """The tangent `here`, factorised, with its border: columns J^-1 dR/dp (size, n) and the conditions along them, (n, n)."""

    here: Linearisation
    lu: SuperLU
    border: np.ndarray
    schur: np.ndarray


def bordered(
    system: System,
    start: State,
    free: tuple[Scalar, ...],
    conditions: tuple[Condition, ...],
    reshape: Reshape | None = None,
    factors: Factors | None = None,
    tolerance: float = TOLERANCE,
) -> State:
    """Solve R(T, p) = 0 with as many linear `conditions` on T as there are `free` scalars p, none of either included.

    Block elimination: one factorisation of dR/dT serves the residual and every border column; the small Schur complement
    gives the scalars' step. Steps are halved while the scaled residual does not fall. Close to the solution the last
    factors are used again for as long as each step gains a factor of seven; known `factors` at `start` serve the first step.
    `reshape`, called after every step, returns the system with its velocity fitted to the new temperatures, and the conditions
    on it. Raises NoConvergence.
    """
    state = start
    here = factors.here if factors else Linearisation.at(system, state.temperature, state.flow, state.power)
    merit, fall, steps = _merit(here, conditions, state), 1.0, FITTED_STEPS if reshape else STEPS
    for taken in range(steps):
        if merit < tolerance:
            return replace(state, system=system)
        if factors is None or (taken and (merit > CHORD_BELOW or fall > CHORD_FALL)):
            factors = factors_of(system, here, free, conditions)
            slope = -float(factors.schur[0, 1] / factors.schur[0, 0]) if free == ("power", "flow") else None
            state = replace(state, factorisations=state.factorisations + 1, power_slope=slope)
        before, step = merit, _step(here, state, factors, conditions)
        state, here, merit = _line_search(here, state, merit, step, free, conditions)
        if reshape:
            system, conditions = reshape(system, state)
            here = Linearisation.at(system, state.temperature, state.flow, state.power)
            merit = _merit(here, conditions, state)
        fall = merit / before
        if before < ROUND_OFF and fall > 0.25:
            return replace(state, system=system)
    if merit < tolerance:
        return replace(state, system=system)
    raise NoConvergence(f"no convergence in {steps} steps; the residual is at {merit:.1e} of the heat that moves")


def _merit(here: Linearisation, conditions: tuple[Condition, ...], state: State) -> float:
    """Summed residual over the power scale, plus the conditions' misses over 100 K [-]."""
    scale = max(abs(state.power), 0.5)
    residual = float(np.abs(here.free_residual).sum()) / scale
    return residual + sum(abs(c.miss(state.temperature, state.flow)) for c in conditions) / 100.0


def factors_of(
    system: System, here: Linearisation, free: tuple[Scalar, ...], conditions: tuple[Condition, ...]
) -> Factors:
    """The tangent at `here`, factorised with the border of the `free` scalars and their `conditions`."""
    columns = {"power": -system.source, "flow": here.by_flow}
    lu = factorised(here.tangent())
    if not free:
        return Factors(here, lu, np.zeros((system.space.size, 0)), np.zeros((0, 0)))
    border = lu.solve(np.column_stack([_at_free(system, columns[name]) for name in free]))
    return bordered_by(Factors(here, lu, border, np.zeros((0, 0))), free, conditions)


def bordered_by(factors: Factors, free: tuple[Scalar, ...], conditions: tuple[Condition, ...]) -> Factors:
    """The same tangent and `free` scalars under other `conditions`."""
    direct = np.array([[c.by(name) for name in free] for c in conditions])
    return replace(factors, schur=np.array([c.along(factors.border) for c in conditions]) - direct)


def _step(
    here: Linearisation, state: State, factors: Factors, conditions: tuple[Condition, ...]
) -> tuple[np.ndarray, np.ndarray]:
    base = factors.lu.solve(-here.free_residual)
    if not np.all(np.isfinite(base)):
        raise NoConvergence("the tangent is singular")
    miss = np.array([c.miss(state.temperature, state.flow) + c.along(base) for c in conditions])
    try:
        scalars = np.linalg.solve(factors.schur, miss)
    except np.linalg.LinAlgError as fault:
        raise NoConvergence("the conditions do not depend on flow and power") from fault
    return base - factors.border @ scalars, scalars


def _at_free(system: System, column: np.ndarray) -> np.ndarray:
    result = column.copy()
    result[system.inlet] = 0.0
    return result


def _line_search(
    here: Linearisation,
    state: State,
    merit: float,
    step: tuple[np.ndarray, np.ndarray],
    free: tuple[Scalar, ...],
    conditions: tuple[Condition, ...],
) -> tuple[State, Linearisation, float]:
    move, scalars = step
    share = _admissible(state, scalars, free)
    best: tuple[State, Linearisation, float] | None = None
    for _ in range(HALVINGS):
        change = dict(zip(free, share * scalars, strict=True))
        trial = replace(
            state,
            temperature=state.temperature + share * move,
            flow=float(state.flow + change.get("flow", 0.0)),
            power=float(state.power + change.get("power", 0.0)),
        )
        there = Linearisation.at(here.system, trial.temperature, trial.flow, trial.power)
        trial_merit = _merit(there, conditions, trial)
        if np.isfinite(trial_merit) and (best is None or trial_merit < best[2]):
            best = (trial, there, trial_merit)
        if trial_merit < (1.0 - 1e-4 * share) * merit or trial_merit < TOLERANCE:
            break
        share /= 2.0
    if best is None:
        raise NoConvergence("the residual is not finite")
    return best


def _admissible(state: State, scalars: np.ndarray, free: tuple[Scalar, ...]) -> float:
    """Share of the full step that keeps flow and power positive and within a factor of what they were."""
    share = 1.0
    for name, change in zip(free, scalars, strict=True):
        value = getattr(state, name)
        low, high = value * (1.0 / LARGEST_STEP - 1.0), value * (LARGEST_STEP - 1.0)
        if change < low:
            share = min(share, low / change)
        elif change > high:
            share = min(share, high / change)
    return share
