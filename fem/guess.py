"""A first guess of the field: metal at the setpoint, the polymer by the plug-flow series of the heated tube."""

from __future__ import annotations

import numpy as np

from meltzone.fem.heated_bar import core_fourier, first_decay, temperatures
from meltzone.fem.newton import State
from meltzone.fem.problem import Problem
from meltzone.fem.system import System
from meltzone.geometry.arrangement import Arrangement


def heated_depth(arrangement: Arrangement, heights: np.ndarray) -> np.ndarray:
    """Length from the block's upper face down to `heights` [m], a divided length counted once for each channel, same shape [m].

    N round holes heat a plug like N times their length of one, however wide they are: pi k z / (rho c Q/N) decides.
    """
    channels, (lower, upper) = arrangement.channels, arrangement.divided_levels
    depth = np.clip(arrangement.block_top - heights, 0.0, None)
    if channels is None:
        return depth
    return np.asarray(depth + (channels.number - 1) * np.clip(upper - heights, 0.0, upper - lower))


def heated_length(problem: Problem) -> float:
    """Length from the block's upper face to the capillary's entry, a divided length counted for each channel [m]."""
    return float(heated_depth(problem.arrangement, np.array(problem.arrangement.nozzle.land)))


def diffusivity(problem: Problem) -> float:
    """Effective diffusivity of the polymer between inlet and flow temperature, melting spread over the rise [m2/s]."""
    polymer, cold = problem.materials.polymer, problem.operation.inlet_temperature
    hot = polymer.flow_temperature
    rise = float(polymer.enthalpy(np.array(hot)) - polymer.enthalpy(np.array(cold)))
    return float(polymer.conductivity(np.array((hot + cold) / 2.0))) * (hot - cold) / rise / polymer.reference_density


def plug_ceiling(problem: Problem) -> float:
    """Flow at which the core of a plug in a tube at the setpoint just reaches the flow temperature [m3/s].

    Fo = pi alpha L / Q, whatever the radius.
    """
    operation, flow_temperature = problem.operation, problem.materials.polymer.flow_temperature
    theta = (operation.setpoint - flow_temperature) / (operation.setpoint - operation.inlet_temperature)
    theta = min(max(theta, 1e-3), 0.99)
    return np.pi * diffusivity(problem) * heated_length(problem) / core_fourier(theta)


def first_guess(system: System, flow: float) -> State:
    """State to start from at `flow` [m3/s]; the power is the plug's enthalpy rise and a little for losses."""
    problem, space = system.problem, system.space
    a, operation = problem.arrangement, problem.operation
    r, z = space.points
    hot, cold, inlet = operation.setpoint, problem.surroundings.cold_temperature, operation.inlet_temperature
    neck = np.clip((z - a.block_top) / a.heat_break.neck_length, 0.0, 1.0)
    temperature = hot + neck * (cold - hot)
    polymer = space.dofs_of("polymer")
    passage = a.wall.radius(z[polymer])
    depth = heated_depth(a, z[polymer])
    fourier = np.pi * diffusivity(problem) * depth / flow
    share = np.clip(r[polymer] / passage, 0.0, 1.0)
    theta = temperatures(share, fourier + 2e-3)
    temperature[polymer] = hot - np.clip(theta, 0.0, 1.0) * (hot - inlet)
    temperature[system.inlet] = inlet
    mean_rise = hot - (0.7 * float(first_decay(fourier.max()))) * (hot - inlet)
    rise = float(np.ptp(problem.materials.polymer.enthalpy(np.array([inlet, mean_rise]))))
    power = system.density * flow * rise + 0.02 * (hot - problem.surroundings.air_temperature)
    return State(temperature, flow, power)
