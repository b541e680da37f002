"""A section marched along the flow with properties over temperature: second order, implicit, heat kept to round-off."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.linalg import splu

from meltzone.fem.across.section import Section, weighted
from meltzone.materials.curves import REFERENCE_TEMPERATURE, Curve

DIAGONAL = 1.0 - np.sqrt(0.5)  # of the two-stage diagonally implicit rule that is L-stable and of second order
FIRST_STEPS = 3.0  # the steps' ends lie at the shares (i / n)^3 of the length
CONVERGED, MOST_STEPS = 1e-9, 40  # largest last change of a temperature [K]

WallLaw = Callable[[float], float]


class Medium(Protocol):
    """What of a polymer counts here; `meltzone.materials.polymer.Polymer` is one. Temperatures in [K]."""

    @property
    def conductivity(self) -> Curve:
        """Conductivity [W/m/K]."""

    def enthalpy(self, temperature: np.ndarray) -> np.ndarray:
        """Specific enthalpy [J/kg]."""

    def enthalpy_slope(self, temperature: np.ndarray) -> np.ndarray:
        """Its derivative [J/kg/K]."""


@dataclass(frozen=True, eq=False)
class ConstantMedium:
    """A polymer whose `conductivity` and `heat_capacity` [J/kg/K] do not change."""

    conductivity: Curve
    heat_capacity: float

    def enthalpy(self, temperature: np.ndarray) -> np.ndarray:
        """Specific enthalpy [J/kg] at `temperature` [K]."""
        return np.asarray(self.heat_capacity * (temperature - REFERENCE_TEMPERATURE))

    def enthalpy_slope(self, temperature: np.ndarray) -> np.ndarray:
        """Heat capacity [J/kg/K] at `temperature` [K]."""
        return np.full(np.shape(temperature), self.heat_capacity)


def constant_medium(conductivity: float, heat_capacity: float) -> ConstantMedium:
    """A polymer with one `conductivity` [W/m/K] and one `heat_capacity` [J/kg/K]."""
    return ConstantMedium(Curve.constant("conductivity", "W/m/K", conductivity, "as given"), heat_capacity)


@dataclass(frozen=True, eq=False)
class Passage:
    """A section through which `medium` flows at `mass_flow` [kg/s]; `factor` multiplies its conductivity [-]."""

    section: Section
    medium: Medium
    mass_flow: float
    factor: float = 1.0

    @cached_property
    def wall_load(self) -> np.ndarray:
        """Heat into each unknown per kelvin of wall temperature, (n,) [W/m/K]."""
        s = self.section
        whole = np.zeros(s.size)
        return whole if s.held.size else s.film * (s.wall @ (whole + 1.0))

    def carried(self, temperature: np.ndarray) -> np.ndarray:
        """Enthalpy flow belonging to each unknown, (n,) [W], at the unknowns `temperature` (n,) [K]."""
        s = self.section
        return np.asarray(self.mass_flow * (s.values.T @ (s.share * self.medium.enthalpy(s.values @ temperature))))

    def heating(self, temperature: np.ndarray, wall: float) -> np.ndarray:
        """Heat into each unknown per length, (n,) [W/m], at `temperature` (n,) [K] and the `wall`'s [K]."""
        s = self.section
        flux = s.area * self._conductivity(temperature)
        inside = sum(slope.T @ (flux * (slope @ temperature)) for slope in s.slopes)
        return np.asarray(self.wall_load * wall - s.outside @ temperature - inside)

    def through_wall(self, temperature: np.ndarray, wall: float) -> float:
        """Heat through the wall's film per length [W/m]; none is told here for a wall that is held."""
        return float(wall * self.wall_load.sum() - self.wall_load @ temperature)

    def tangent(self, temperature: np.ndarray, step: float) -> csr_array:
        """Derivative of `carried` less `step` [m] times `heating`, (n, n) [W/K], at `temperature` (n,) [K]."""
        s = self.section
        at_points = s.values @ temperature
        stored = s.values.T @ weighted(s.values, self.mass_flow * s.share * self.medium.enthalpy_slope(at_points))
        conduction = s.conduction(self._conductivity(temperature)) + s.outside
        curve = self.medium.conductivity
        if not curve.is_constant:
            change = s.area * self.factor * curve.slope(at_points)
            conduction += sum(k.T @ weighted(s.values, change * (k @ temperature)) for k in s.slopes)
        return csr_array(stored + step * conduction)

    def _conductivity(self, temperature: np.ndarray) -> np.ndarray:
        return self.factor * self.medium.conductivity(self.section.values @ temperature)


@dataclass(frozen=True, eq=False)
class Course:
    """A march: `distance` (n + 1,) [m], `temperature` (n + 1, size) [K], and what the balance needs.

    `heat` (n + 1,) [W] went through the wall up to there, `enthalpy` (n + 1,) [W] is the flow's.
    """

    section: Section
    distance: np.ndarray
    temperature: np.ndarray
    heat: np.ndarray
    enthalpy: np.ndarray

    @property
    def end(self) -> np.ndarray:
        """Temperatures at the end, (size,) [K]."""
        return np.asarray(self.temperature[-1])

    @property
    def imbalance(self) -> float:
        """Enthalpy gained less heat through the wall, over that heat [-]."""
        return float((self.enthalpy[-1] - self.enthalpy[0] - self.heat[-1]) / self.heat[-1])


def march(passage: Passage, start: np.ndarray, wall: WallLaw | float, length: float, steps: int = 40) -> Course:
    """March from the temperatures `start` (size,) [K] over `length` [m] along the flow; the `wall`'s in [K] over z [m].

    Steps grow from the entry, where the temperature falls steeply across the wall's layer. Each is one of the two-stage,
    stiffly accurate, diagonally implicit Runge-Kutta rule with the diagonal 1 - 1/sqrt(2) (Alexander 1977, SIAM J. Numer.
    Anal. 14:1006-1021, from memory): L-stable, so that webs, which store nothing, follow without delay. Enthalpy is
    what is advanced, so that what is gained is what the stages let through the wall. Raises ArithmeticError where a
    stage's Newton iteration does not settle.
    """
    law: WallLaw = wall if callable(wall) else lambda _: float(wall)
    distance = length * (np.arange(steps + 1) / steps) ** FIRST_STEPS
    temperatures, heat = [np.asarray(start, dtype=float)], [0.0]
    enthalpy = [float(passage.carried(temperatures[0]).sum())]
    for z, step in zip(distance[:-1], np.diff(distance), strict=True):
        temperature, through = _step(passage, temperatures[-1], law, z, step)
        temperatures.append(temperature)
        heat.append(heat[-1] + through)
        enthalpy.append(float(passage.carried(temperature).sum()))
    return Course(passage.section, distance, np.array(temperatures), np.array(heat), np.array(enthalpy))


def _step(passage: Passage, start: np.ndarray, law: WallLaw, z: float, step: float) -> tuple[np.ndarray, float]:
    """Temperatures after one step, and the heat through the wall [W]."""
    before = passage.carried(start)
    inner, wall = DIAGONAL * step, law(z + DIAGONAL * step)
    first = _stage(passage, start, before, inner, wall)
    rate = passage.heating(first, wall)
    held = passage.section.held
    if held.size:  # what holds the wall's unknowns is part of what enters there
        rate[held] = ((passage.carried(first) - before)[held]) / inner
    known = before + (1.0 - DIAGONAL) * step * rate
    last_wall = law(z + step)
    last = _stage(passage, first, known, inner, last_wall)
    if held.size:
        reaction = passage.carried(last) - known - inner * passage.heating(last, last_wall)
        first_reaction = rate[held] - passage.heating(first, wall)[held]
        return last, float(reaction[held].sum() + (1.0 - DIAGONAL) * step * first_reaction.sum())
    through = (1.0 - DIAGONAL) * passage.through_wall(first, wall) + DIAGONAL * passage.through_wall(last, last_wall)
    return last, step * through


def _stage(passage: Passage, guess: np.ndarray, known: np.ndarray, step: float, wall: float) -> np.ndarray:
    """Temperatures with `carried` less `step` times `heating` equal to `known` (size,) [W], those held at the `wall`'s [K]."""
    free, temperature = passage.section.free, guess.copy()
    temperature[passage.section.held] = wall
    for _ in range(MOST_STEPS):
        residual = passage.carried(temperature) - known - step * passage.heating(temperature, wall)
        tangent = passage.tangent(temperature, step)[free][:, free]
        change = splu(tangent.tocsc()).solve(residual[free])
        temperature[free] -= change
        if np.abs(change).max() < CONVERGED:
            return temperature
    raise ArithmeticError(f"a step of {step:g} m did not settle: last change {np.abs(change).max():.1e} K")
