"""Bordered Newton iteration: temperatures, flow and heater power solved together with the conditions that fix the last two."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from meltzone.fem.linearise import Linearisation
from meltzone.fem.sparse import factorised
from meltzone.fem.system import System

Scalar = Literal["power", "flow"]
Watcher = Callable[[int, float], None]

TOLERANCE = 1e-9  # of the summed residual, relative to the heat that moves
ROUND_OFF = 1e-7  # below this a residual that no longer falls is round-off, and the state as good as it gets
LARGEST_STEP = 3.0  # flow and power change by at most this factor in one step
STEPS = 20
HALVINGS = 8


class NoConvergence(RuntimeError):
    """The iteration found no state; `reason` says what stopped it."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


@dataclass(frozen=True, eq=False)
class State:
    """A point of the iteration: `temperature` (size,) [K], `flow` [m3/s], `power` [W]; `factorisations` spent so far.

    `power_slope` is dP/dQ with the first condition held, as of the last step that freed both scalars [J/m3].
    """

    temperature: np.ndarray
    flow: float
    power: float
    factorisations: int = 0
    power_slope: float | None = None


@dataclass(frozen=True, eq=False)
class Condition:
    """A linear condition, weights . T[dofs] = target [K]: sensor at setpoint, core at flow temperature."""

    dofs: np.ndarray
    weights: np.ndarray
    target: float

    def miss(self, temperature: np.ndarray) -> float:
        """Value less target [K]."""
        return float(self.weights @ temperature[self.dofs]) - self.target


def bordered(
    system: System,
    start: State,
    free: tuple[Scalar, ...],
    conditions: tuple[Condition, ...],
    watch: Watcher | None = None,
) -> State:
    """Solve R(T, p) = 0 with as many linear `conditions` on T as there are `free` scalars p.

    Block elimination: one factorisation of dR/dT serves the residual and every border column; the small Schur complement
    gives the scalars' step. Steps are halved while the scaled residual does not fall.

    Raises NoConvergence.
    """
    state = start
    here = Linearisation.at(system, state.temperature, state.flow, state.power)
    merit = _merit(here, conditions, state)
    for step in range(STEPS):
        if watch:
            watch(step, merit)
        if merit < TOLERANCE:
            return state
        before = merit
        move, scalars, slope = _step(system, here, state, free, conditions)
        state = replace(state, power_slope=slope)
        state, here, merit = _line_search(system, state, merit, move, scalars, free, conditions)
        if before < ROUND_OFF and merit > 0.25 * before:
            return state
    raise NoConvergence(f"no convergence in {STEPS} steps; the residual stands at {merit:.1e} of the heat that moves")


def _merit(here: Linearisation, conditions: tuple[Condition, ...], state: State) -> float:
    """Summed residual over the power scale, plus the conditions' misses over 100 K [-]."""
    scale = max(abs(state.power), 0.5)
    residual = float(np.abs(here.free_residual).sum()) / scale
    return residual + sum(abs(c.miss(state.temperature)) for c in conditions) / 100.0


def _step(
    system: System, here: Linearisation, state: State, free: tuple[Scalar, ...], conditions: tuple[Condition, ...]
) -> tuple[np.ndarray, np.ndarray, float | None]:
    columns = {"power": -system.source, "flow": here.by_flow}
    right = np.column_stack([-here.free_residual, *(_at_free(system, columns[name]) for name in free)])
    solved = factorised(here.tangent()).solve(right)
    if not np.all(np.isfinite(solved)):
        raise NoConvergence("the tangent is singular")
    base, border = solved[:, 0], solved[:, 1:]
    schur = np.array([c.weights @ border[c.dofs] for c in conditions])
    miss = np.array([c.miss(state.temperature) + c.weights @ base[c.dofs] for c in conditions])
    try:
        scalars = np.linalg.solve(schur, miss)
    except np.linalg.LinAlgError as fault:
        raise NoConvergence("the conditions do not depend on flow and power") from fault
    slope = -float(schur[0, 1] / schur[0, 0]) if free == ("power", "flow") else None
    return base - border @ scalars, scalars, slope


def _at_free(system: System, column: np.ndarray) -> np.ndarray:
    result = column.copy()
    result[system.inlet] = 0.0
    return result


def _line_search(
    system: System,
    state: State,
    merit: float,
    move: np.ndarray,
    scalars: np.ndarray,
    free: tuple[Scalar, ...],
    conditions: tuple[Condition, ...],
) -> tuple[State, Linearisation, float]:
    share = _admissible(state, scalars, free)
    best: tuple[State, Linearisation, float] | None = None
    for _ in range(HALVINGS):
        values = {name: float(getattr(state, name) + share * d) for name, d in zip(free, scalars, strict=True)}
        trial = replace(
            state, temperature=state.temperature + share * move, factorisations=state.factorisations + 1, **values
        )
        there = Linearisation.at(system, trial.temperature, trial.flow, trial.power)
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
