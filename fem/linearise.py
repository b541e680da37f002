"""Residual and tangent of a system's heat balance at a state."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csc_matrix

from meltzone.fem.forms import (
    Entries,
    advection,
    cell_matrices,
    conduction,
    contact_by_flow,
    contact_heat,
    division_by_flow,
    outflow,
    surface_loss,
)
from meltzone.fem.sparse import scatter
from meltzone.fem.system import System


@dataclass(frozen=True, eq=False)
class Linearisation:
    """The heat balance at a state: `residual` [W], its derivative by flow [J/m3], both (size,), the tangent's entries."""

    system: System
    residual: np.ndarray
    by_flow: np.ndarray
    entries: list[np.ndarray]

    @classmethod
    def at(cls, system: System, temperature: np.ndarray, flow: float, power: float) -> Linearisation:
        """Evaluate every term of the weak form."""
        mass_flow = system.density * flow
        cells = system.space.cells
        flux, tangent = conduction(system, temperature, flow)
        carried, carried_slope = advection(system, temperature)
        chosen = system.polymer_cells
        load = np.einsum("eij,ej->ei", cells.gradients, flux)
        by_mass = np.zeros_like(load)
        by_mass[chosen] = -np.einsum("eij,ej->ei", cells.gradients[chosen], carried)
        load += mass_flow * by_mass
        slope = tangent[1]
        slope[chosen] -= mass_flow * carried_slope
        matrix = cell_matrices(cells.gradients, cells.values, tangent[0], slope)
        out_load, out_matrix = outflow(system, temperature)
        terms: list[Entries] = [(load, matrix, cells.dofs)]
        terms += [surface_loss(face, temperature) for face in system.faces]
        terms += [contact_heat(contact, temperature, flow) for contact in system.contacts]
        terms.append((mass_flow * out_load, mass_flow * out_matrix, system.outlet.dofs))
        loads, matrices, dofs = (list(column) for column in zip(*terms, strict=True))
        residual = scatter(loads, dofs, system.space.size) - power * system.source - system.viscous
        rates = [system.density * by_mass, system.density * out_load]
        rates += [contact_by_flow(contact, temperature, flow) for contact in system.contacts]
        where = [cells.dofs, system.outlet.dofs, *(contact.dofs for contact in system.contacts)]
        if system.divided is not None:
            rates.append(division_by_flow(system, flux, flow))
            where.append(cells.dofs[system.divided.cells])
        by_flow = scatter(rates, where, system.space.size)
        return cls(system, residual, by_flow, matrices)

    @property
    def free_residual(self) -> np.ndarray:
        """The residual with the inlet's reactions taken out, shape (size,) [W]."""
        free = self.residual.copy()
        free[self.system.inlet] = 0.0
        return free

    def tangent(self) -> csc_matrix:
        """Derivative of the residual by the temperatures; identity rows at the inlet."""
        return self.system.pattern.matrix(self.entries)
