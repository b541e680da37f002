"""The weak forms, one function a term, evaluated at all quadrature points at once; named as in docs/theory."""

from __future__ import annotations

import numpy as np

from meltzone.fem.system import ContactTerm, FaceTerm, System

Entries = tuple[np.ndarray, np.ndarray, np.ndarray]  # loads (n, m) [W], matrices (n, m, m) [W/K], dofs (n, m)


def conductivities(system: System, temperature: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Conductivity [W/m/K] and its derivative by temperature [W/m/K2] at all quadrature points, each (n, n_q)."""
    cells = system.space.cells
    k, slope = np.empty_like(cells.volume), np.zeros_like(cells.volume)
    for chosen, curve in system.conductors:
        here = cells.at_points(temperature, chosen)
        k[chosen] = curve(here)
        slope[chosen] = curve.slope(here)
    return k, slope


def gradients_of(system: System, field: np.ndarray) -> np.ndarray:
    """Gradient of the unknowns `field` (size,) at all quadrature points, components side by side, (n, 2 n_q).

    The gradient of a constant vanishes: taking out one node's value first keeps two digits that hot metal would lose.
    """
    local = field[system.space.cells.dofs]
    return np.einsum("ei,eij->ej", local - local[:, :1], system.space.cells.gradients)


def spread(system: System, values: np.ndarray, flow: float) -> np.ndarray:
    """`values` (n, n_q) for the radial and the axial direction side by side, (n, 2 n_q).

    In a divided length the radial ones are multiplied by the factor of the equivalent passage at `flow` [m3/s].
    """
    both = np.hstack([values, values])
    if system.divided is not None:
        factor, _ = system.divided.passage.factor(flow)
        both[system.divided.cells, : values.shape[1]] *= factor
    return both


def conduction(
    system: System, temperature: np.ndarray, flow: float
) -> tuple[np.ndarray, tuple[np.ndarray, np.ndarray]]:
    """Conductive flux k grad T and its tangent at all quadrature points, times 2 pi r dA.

    Returns the flux (n, 2 n_q) [W m], and (k, k' grad T) of the same shape: the tangent is k grad dT + k' grad T dT.
    """
    volume, gradient = system.space.cells.volume, gradients_of(system, temperature)
    k, slope = conductivities(system, temperature)
    weight = spread(system, k * volume, flow)
    return weight * gradient, (weight, spread(system, slope * volume, flow) * gradient)


def division_by_flow(system: System, flux: np.ndarray, flow: float) -> np.ndarray:
    """Derivative of the conductive flux (n, 2 n_q) by the flow, in the divided length, whose factor changes with it.

    Loads (n_divided, 9) [J/m3].
    """
    assert system.divided is not None
    cells, chosen = system.space.cells, system.divided.cells
    n_q = cells.values.shape[1]
    factor, by_flow = system.divided.passage.factor(flow)
    radial = flux[chosen, :n_q] * (by_flow / factor)
    return np.einsum("eij,ej->ei", cells.gradients[chosen, :, :n_q], radial)


def advection(system: System, temperature: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Enthalpy carried by a unit mass flow, h m, and its derivative by temperature, cp m, times 2 pi r dA: (n_polymer, 2 n_q).

    Taken in conservative form, -integral of h m . grad v, so that the sum of all rows is the heat carried out less in.
    """
    cells, polymer = system.space.cells, system.problem.materials.polymer
    here = cells.at_points(temperature, system.polymer_cells)
    h, cp = polymer.enthalpy(here), polymer.enthalpy_slope(here)
    return np.hstack([h, h]) * system.drift, np.hstack([cp, cp]) * system.drift


def outflow(system: System, temperature: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Enthalpy that leaves through the orifice for a unit mass flow: loads (n, 3) [J/kg] and matrices (n, 3, 3) [J/kg/K]."""
    facets, polymer = system.outlet, system.problem.materials.polymer
    here = facets.traces(temperature)
    load = np.einsum("eiq,eq->ei", facets.values, polymer.enthalpy(here) * system.outlet_share)
    weight = polymer.enthalpy_slope(here) * system.outlet_share
    return load, np.einsum("eiq,eq,ejq->eij", facets.values, weight, facets.values)


def cell_matrices(gradients: np.ndarray, values: np.ndarray, weight: np.ndarray, slope: np.ndarray) -> np.ndarray:
    """grad v . (weight grad dT + slope dT) summed over the points, shape (n, 9, 9)."""
    trial = gradients * weight[:, None, :]
    n_q = gradients.shape[2] // 2
    trial[:, :, :n_q] += values[None] * slope[:, None, :n_q]
    trial[:, :, n_q:] += values[None] * slope[:, None, n_q:]
    return np.matmul(gradients, trial.transpose(0, 2, 1))


def surface_loss(face: FaceTerm, temperature: np.ndarray) -> Entries:
    """Heat lost through a face: integral of q(T) v 2 pi r ds over its true area; loads (n, 3) [W]."""
    values = face.facets.values
    surface = face.facets.traces(temperature)
    load = np.einsum("eiq,eq->ei", values, face.loss(surface) * face.area)
    matrix = np.einsum("eiq,eq,ejq->eij", values, face.loss(surface, 1) * face.area, values)
    return load, matrix, face.facets.dofs


def contact_heat(contact: ContactTerm, temperature: np.ndarray, flow: float) -> Entries:
    """Heat across a contact: integral of h(z, Q) (T_1 - T_2) (v_1 - v_2) 2 pi r ds; loads (n, 6) [W]."""
    conductance, _ = contact.law(contact.first.points[1], flow)
    weight = conductance * contact.first.area
    matrix = np.einsum("eiq,eq,ejq->eij", contact.jump, weight, contact.jump)
    return np.einsum("eij,ej->ei", matrix, temperature[contact.dofs]), matrix, contact.dofs


def contact_by_flow(contact: ContactTerm, temperature: np.ndarray, flow: float) -> np.ndarray:
    """Derivative of the heat across a contact by the flow: dh/dQ in place of h, loads (n, m) [J/m3]."""
    _, by_flow = contact.law(contact.first.points[1], flow)
    jump = contact.across(temperature)
    return np.einsum("eiq,eq->ei", contact.jump, by_flow * jump * contact.first.area)
