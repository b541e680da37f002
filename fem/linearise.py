"""Residual of a system's heat balance at a state, and its derivatives where they are asked for."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import csc_matrix

from meltzone.fem.forms import (
    advection,
    advection_slope,
    cell_matrices,
    conductivities,
    conductivity_slopes,
    contact_by_flow,
    contact_heat,
    contact_slope,
    division_by_flow,
    gradients_of,
    outflow,
    outflow_slope,
    spread,
    surface_loss,
    surface_slope,
)
from meltzone.fem.sparse import scatter
from meltzone.fem.system import System


@dataclass(frozen=True, eq=False)
class Linearisation:
    """The heat balance at the unknowns `temperature` (size,) [K] and a `flow` [m3/s]: its `residual` (size,) [W].

    For the derivatives are kept k 2 pi r dA as `weight` [W m2/K] and the `gradient` [K/m], each (n, 2 n_q), and what a unit
    mass flow carries into the cells, `by_mass` (n, 9), and out of the orifice, `leaving` (n, 3) [J/kg].
    """

    system: System
    temperature: np.ndarray
    flow: float
    residual: np.ndarray
    weight: np.ndarray
    gradient: np.ndarray
    by_mass: np.ndarray
    leaving: np.ndarray

    @classmethod
    def at(cls, system: System, temperature: np.ndarray, flow: float, power: float) -> Linearisation:
        """Evaluate every term of the weak form."""
        mass_flow, cells, chosen = system.density * flow, system.space.cells, system.polymer_cells
        gradient = gradients_of(system, temperature)
        weight = spread(system, conductivities(system, temperature) * cells.volume, flow)
        load = np.einsum("eij,ej->ei", cells.gradients, weight * gradient)
        by_mass = np.zeros_like(load)
        by_mass[chosen] = -np.einsum("eij,ej->ei", cells.gradients[chosen], advection(system, temperature))
        leaving = outflow(system, temperature)
        terms = [(load + mass_flow * by_mass, cells.dofs), (mass_flow * leaving, system.outlet.dofs)]
        terms += [(surface_loss(face, temperature), face.facets.dofs) for face in system.faces]
        terms += [(contact_heat(contact, temperature, flow), contact.dofs) for contact in system.contacts]
        loads, dofs = (list(column) for column in zip(*terms, strict=True))
        residual = scatter(loads, dofs, system.space.size) - power * system.source - system.viscous
        return cls(system, temperature, flow, residual, weight, gradient, by_mass, leaving)

    @property
    def free_residual(self) -> np.ndarray:
        """The residual with the inlet's reactions taken out, shape (size,) [W]."""
        free = self.residual.copy()
        free[self.system.inlet] = 0.0
        return free

    @cached_property
    def by_flow(self) -> np.ndarray:
        """Derivative of the residual by the flow, (size,) [J/m3]."""
        system, cells = self.system, self.system.space.cells
        rates = [system.density * self.by_mass, system.density * self.leaving]
        rates += [contact_by_flow(contact, self.temperature, self.flow) for contact in system.contacts]
        where = [cells.dofs, system.outlet.dofs, *(contact.dofs for contact in system.contacts)]
        if system.divided is not None:
            rates.append(division_by_flow(system, self.weight * self.gradient, self.flow))
            where.append(cells.dofs[system.divided.cells])
        return scatter(rates, where, system.space.size)

    @cached_property
    def entries(self) -> list[np.ndarray]:
        """Element matrices of the derivative by the temperatures [W/K]: cells, faces, contacts, outlet.

        The tangent of the conductive flux k grad T is k grad dT + k' grad T dT.
        """
        system, temperature, cells = self.system, self.temperature, self.system.space.cells
        mass_flow = system.density * self.flow
        slope = spread(system, conductivity_slopes(system, temperature) * cells.volume, self.flow) * self.gradient
        slope[system.polymer_cells] -= mass_flow * advection_slope(system, temperature)
        return [
            cell_matrices(cells.gradients, cells.values, self.weight, slope),
            *(surface_slope(face, temperature) for face in system.faces),
            *(contact_slope(contact, self.flow) for contact in system.contacts),
            mass_flow * outflow_slope(system, temperature),
        ]

    def tangent(self, besides: np.ndarray | float = 0.0) -> csc_matrix:
        """Derivative of the residual by the temperatures; identity rows at the inlet.

        Element matrices `besides` (n_cells, 9, 9) [W/K] are added to those of the cells.
        """
        cells, *others = self.entries
        return self.system.pattern.matrix([cells + besides, *others])
