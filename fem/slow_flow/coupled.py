"""Temperatures and slow flow of the melt solved in turn, each with the other held, until both agree."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from meltzone.fem.discretise import moved_by
from meltzone.fem.faults import FlowNotAgreed
from meltzone.fem.motion import from_solid
from meltzone.fem.newton import State
from meltzone.fem.slow_flow.stokes import MeltFlow, Passage, melt_flow
from meltzone.fem.system import System

TURNS = 40  # seven are enough near a melt ceiling
FLOW_AGREES = 1e-6  # of the flow: its change from one turn to the next
HEAT_AGREES = 1e-3  # the same of any temperature [K]
LEAST_SHARE = 0.05

HeatSolve = Callable[[System, State], State]


def coupled(system: System, start: State, heat: HeatSolve) -> State:
    """State at which the melt flows by the viscosity that its temperatures give it, from `start` under `system`'s velocity.

    `heat` solves the temperatures under the velocity and the viscous heat of the system that it is given. Each turn is one
    such solve and, unless nothing moved, one slow flow from the last one's velocity. What the flow gives is taken over whole
    while the turns go on in one direction, and in part where they alternate, as they do where shear heats the melt much:
    the share follows from the last two changes of the temperatures (Aitken's extrapolation). The heat balance of every turn
    closes. Factorisations of both are counted. Raises NoConvergence.
    """
    law = system.problem.materials.polymer.viscosity
    assert law is not None, "a solved velocity needs a viscosity"
    assert system.divided is None, "the slow flow is not solved within channels"
    passage, state = Passage.of(system), start
    share, moved, by_flow, by_heat = 1.0, None, np.inf, np.inf
    for turn in range(TURNS):
        before, state = state, heat(system, state)
        if turn:
            last, moved = moved, state.temperature - before.temperature
            by_flow, by_heat = abs(state.flow / before.flow - 1.0) / share, float(np.abs(moved).max()) / share
            if by_flow < FLOW_AGREES and by_heat < HEAT_AGREES:
                return state
            share = share if last is None else _next_share(share, last, moved)
        near = system.creep * state.flow if system.creep.size else None
        melt = melt_flow(passage, state.temperature, state.flow, law, near)
        state = replace(state, factorisations=state.factorisations + melt.solved.factorisations)
        system = carried_by(system, melt, share)
    raise FlowNotAgreed(TURNS, by_flow, by_heat)


def carried_by(system: System, melt: MeltFlow, share: float = 1.0) -> System:
    """The system with the stream function of a slow flow and its heat, that of rubbing along the wall included.

    With a `share` below 1 both go only so far from what the system has to what the flow gives.
    """
    space, filled = system.space, melt.passage.sections.ravel()
    stream = system.stream.copy()
    stream[filled] = from_solid(system.problem.arrangement, space.points[:, filled], melt.stream.ravel())
    stream = system.stream + share * (stream - system.stream)
    viscous = system.viscous + share * (melt.load(space.size) - system.viscous)
    return moved_by(system, stream, viscous, melt.solved.velocity / melt.flow)


def _next_share(share: float, last: np.ndarray, moved: np.ndarray) -> float:
    """The share with which changes that follow each other like these two would end in the next turn, at most 1."""
    trend = float(moved @ last) / float(last @ last)
    return min(max(share / max(1.0 - trend, 1e-3), LEAST_SHARE), 1.0)
