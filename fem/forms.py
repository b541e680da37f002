"""The weak forms, one function a term, evaluated at all quadrature points at once; named as in docs/theory."""

from __future__ import annotations

import numpy as np

from meltzone.fem.system import ContactTerm, FaceTerm, System


def conductivities(system: System, temperature: np.ndarray) -> np.ndarray:
    """Conductivity at all quadrature points, (n, n_q) [W/m/K]."""
    cells = system.space.cells
    k = np.empty_like(cells.volume)
    for chosen, curve in system.conductors:
        k[chosen] = curve(cells.at_points(temperature, chosen))
    return k


def conductivity_slopes(system: System, temperature: np.ndarray) -> np.ndarray:
    """Derivative of the conductivity by temperature at all quadrature points, (n, n_q) [W/m/K2]."""
    cells = system.space.cells
    slope = np.zeros_like(cells.volume)
    for chosen, curve in system.conductors:
        if not curve.is_constant:
            slope[chosen] = curve.slope(cells.at_points(temperature, chosen))
    return slope


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


def advection(system: System, temperature: np.ndarray) -> np.ndarray:
    """Enthalpy carried by a unit mass flow, h m, times 2 pi r dA: (n_polymer, 2 n_q).

    Taken in conservative form, -integral of h m . grad v, so that the sum of all rows is the heat carried out less in.
    """
    h = system.problem.materials.polymer.enthalpy(system.space.cells.at_points(temperature, system.polymer_cells))
    return np.hstack([h, h]) * system.drift


def advection_slope(system: System, temperature: np.ndarray) -> np.ndarray:
    """Derivative of the enthalpy carried by temperature, cp m, times 2 pi r dA: (n_polymer, 2 n_q)."""
    here = system.space.cells.at_points(temperature, system.polymer_cells)
    cp = system.problem.materials.polymer.enthalpy_slope(here)
    return np.hstack([cp, cp]) * system.drift


def outflow(system: System, temperature: np.ndarray) -> np.ndarray:
    """Enthalpy that leaves through the orifice for a unit mass flow: loads (n, 3) [J/kg]."""
    enthalpy = system.problem.materials.polymer.enthalpy(system.outlet.traces(temperature))
    return np.einsum("eiq,eq->ei", system.outlet.values, enthalpy * system.outlet_share)


def outflow_slope(system: System, temperature: np.ndarray) -> np.ndarray:
    """Its derivative by temperature: matrices (n, 3, 3) [J/kg/K]."""
    weight = system.problem.materials.polymer.enthalpy_slope(system.outlet.traces(temperature)) * system.outlet_share
    return np.einsum("eiq,eq,ejq->eij", system.outlet.values, weight, system.outlet.values)


def cell_matrices(gradients: np.ndarray, values: np.ndarray, weight: np.ndarray, slope: np.ndarray) -> np.ndarray:
    """grad v . (weight grad dT + slope dT) summed over the points, shape (n, 9, 9)."""
    trial = gradients * weight[:, None, :]
    n_q = gradients.shape[2] // 2
    trial[:, :, :n_q] += values[None] * slope[:, None, :n_q]
    trial[:, :, n_q:] += values[None] * slope[:, None, n_q:]
    return np.matmul(gradients, trial.transpose(0, 2, 1))


def surface_loss(face: FaceTerm, temperature: np.ndarray) -> np.ndarray:
    """Heat lost through a face: integral of q(T) v 2 pi r ds over its true area; loads (n, 3) [W]."""
    return np.einsum("eiq,eq->ei", face.facets.values, face.loss(face.facets.traces(temperature)) * face.area)


def surface_slope(face: FaceTerm, temperature: np.ndarray) -> np.ndarray:
    """Its derivative by temperature: matrices (n, 3, 3) [W/K]."""
    values, weight = face.facets.values, face.loss(face.facets.traces(temperature), 1) * face.area
    return np.einsum("eiq,eq,ejq->eij", values, weight, values)


def contact_heat(contact: ContactTerm, temperature: np.ndarray, flow: float) -> np.ndarray:
    """Heat across a contact: integral of h(z, Q) (T_1 - T_2) (v_1 - v_2) 2 pi r ds; loads (n, 6) [W]."""
    conductance, _ = contact.law(contact.first.points[1], flow)
    return np.einsum("eiq,eq->ei", contact.jump, conductance * contact.across(temperature) * contact.first.area)


def contact_slope(contact: ContactTerm, flow: float) -> np.ndarray:
    """Its derivative by temperature, the same at every one: matrices (n, 6, 6) [W/K]."""
    conductance, _ = contact.law(contact.first.points[1], flow)
    return np.einsum("eiq,eq,ejq->eij", contact.jump, conductance * contact.first.area, contact.jump)


def contact_by_flow(contact: ContactTerm, temperature: np.ndarray, flow: float) -> np.ndarray:
    """Derivative of the heat across a contact by the flow: dh/dQ in place of h, loads (n, m) [J/m3]."""
    _, by_flow = contact.law(contact.first.points[1], flow)
    jump = contact.across(temperature)
    return np.einsum("eiq,eq->ei", contact.jump, by_flow * jump * contact.first.area)
