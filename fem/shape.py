"""How a weighted residual changes when the nodes of the mesh move: the shape derivative of the heat balance."""

from __future__ import annotations

import numpy as np
from skfem import Basis, ElementQuad1

from meltzone.fem.forms import conductivities, gradients_of, spread
from meltzone.fem.heater import heater_rings
from meltzone.fem.measure import TWO_PI
from meltzone.fem.space import Facets
from meltzone.fem.system import System

CornerShapes = tuple[np.ndarray, np.ndarray]


def shape_gradient(
    system: System, temperature: np.ndarray, flow: float, power: float, weights: np.ndarray
) -> np.ndarray:
    """Derivative of weights . R by the coordinates of the mesh's nodes, shape (2, n_nodes); temperatures ride on the nodes.

    Conduction, with V the motion: integral of k [grad T . grad w div V - grad T . (grad V + grad V^T) grad w] 2 pi r dA plus
    the change of r; in a divided length the radial k is the larger one. Losses and contacts: the change of 2 pi r ds; heater:
    that of its mean. Advection is the wedge of two differentials, h dPsi ^ dw, and does not feel the motion. Source: transport
    theorem on the weak form, own derivation.
    """
    gradient = np.zeros(system.space.section.mesh.p.shape)
    corners = _corner_shapes(system.space.basis)
    _conduction(system, temperature, flow, weights, corners, gradient)
    _heater(system, power, weights, corners, gradient)
    for face in system.faces:
        density = face.loss(face.facets.traces(temperature)) * face.facets.traces(weights) * face.area
        _surface(system, face.facets, density, gradient)
    for contact in system.contacts:
        jump = contact.across(temperature)
        seen = contact.across(weights)
        conductance, _ = contact.law(contact.first.points[1], flow)
        _surface(system, contact.first, conductance * jump * seen * contact.first.area, gradient)
    return gradient


def _corner_shapes(basis: Basis) -> CornerShapes:
    """Bilinear shape functions of the corners: values (4, n_q) and gradients (2, n, 4, n_q) [1/m]."""
    corners = basis.with_element(ElementQuad1())
    shapes = [corners.basis[i][0] for i in range(4)]
    n, n_q = basis.dx.shape
    values = np.array([np.broadcast_to(np.asarray(s), (n, n_q))[0] for s in shapes])
    return values, np.stack([np.broadcast_to(s.grad, (2, n, n_q)) for s in shapes], axis=2)


def _conduction(
    system: System,
    temperature: np.ndarray,
    flow: float,
    weights: np.ndarray,
    shapes: CornerShapes,
    gradient: np.ndarray,
) -> None:
    cells, space = system.space.cells, system.space
    n, n_q = cells.volume.shape
    values, slopes = shapes
    field = gradients_of(system, temperature).reshape(n, 2, n_q)
    adjoint = gradients_of(system, weights).reshape(n, 2, n_q)
    k = conductivities(system, temperature)
    weight = spread(system, k, flow).reshape(n, 2, n_q)
    energy = np.einsum("ecq,ecq,ecq->eq", weight, field, adjoint)
    corners = space.section.mesh.t
    along_adjoint = np.einsum("ceaq,ecq->eaq", slopes, weight * adjoint)
    along_field = np.einsum("ceaq,ecq->eaq", slopes, weight * field)
    for c in range(2):
        change = slopes[c] * energy[:, None] - field[:, None, c] * along_adjoint - along_field * adjoint[:, None, c]
        per_corner = np.einsum("eaq,eq->ae", change, cells.volume)
        if c == 0:
            per_corner += np.einsum("aq,eq->ae", values, TWO_PI * cells.area * energy)
        np.add.at(gradient[c], corners, per_corner)


def _heater(system: System, power: float, weights: np.ndarray, shapes: CornerShapes, gradient: np.ndarray) -> None:
    cells, space = system.space.cells, system.space
    values, slopes = shapes
    for ring, share in heater_rings(system.problem, space):
        volume, area = cells.volume[ring], cells.area[ring]
        seen = cells.at_points(weights, ring)
        total = volume.sum()
        excess = share * (seen - np.sum(seen * volume) / total) / total  # the mean moves by what departs from it
        corners = space.section.mesh.t[:, ring]
        for c in range(2):
            per_corner = np.einsum("eaq,eq->ae", slopes[c][ring], excess * volume)
            if c == 0:
                per_corner += np.einsum("aq,eq->ae", values, TWO_PI * area * excess)
            np.add.at(gradient[c], corners, -power * per_corner)


def along_facets(system: System, facets: Facets) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """End nodes of each facet (2, n), the way from the first to the second (2, n) [m], and how far along it each quadrature
    point lies, (n, n_q) [-]."""
    mesh = system.space.section.mesh
    ends = mesh.facets[:, facets.indices]
    start, span = mesh.p[:, ends[0]], mesh.p[:, ends[1]] - mesh.p[:, ends[0]]
    share = np.einsum("cnq,cn->nq", facets.points - start[:, :, None], span) / np.sum(span**2, axis=0)[:, None]
    return ends, span, share


def _surface(system: System, facets: Facets, density: np.ndarray, gradient: np.ndarray) -> None:
    """Add the change of a surface integral whose terms at the quadrature points are `density`, shape (n, n_q)."""
    ends, span, share = along_facets(system, facets)
    radius = np.maximum(facets.points[0], 1e-300)
    stretch = density.sum(axis=1) * span / np.sum(span**2, axis=0)
    for c in range(2):
        first, second = -stretch[c], stretch[c].copy()
        if c == 0:
            first = first + np.sum(density * (1.0 - share) / radius, axis=1)
            second = second + np.sum(density * share / radius, axis=1)
        np.add.at(gradient[c], ends[0], first)
        np.add.at(gradient[c], ends[1], second)


def unknowns_at(system: System, nodes: np.ndarray) -> np.ndarray:
    """Where the unknowns lie when the mesh's nodes lie at `nodes`, (2, size) [m]: corners, mid-sides, centres."""
    mesh, basis = system.space.section.mesh, system.space.basis
    points = np.empty((2, system.space.size))
    points[:, basis.nodal_dofs[0]] = nodes
    points[:, basis.facet_dofs[0]] = nodes[:, mesh.facets].mean(axis=1)
    points[:, basis.interior_dofs[0]] = nodes[:, mesh.t].mean(axis=1)
    return points


def points_at(system: System, facets: Facets, nodes: np.ndarray) -> np.ndarray:
    """Where the quadrature points of `facets` lie when the mesh's nodes lie at `nodes`, (2, n, n_q) [m]."""
    (a, b), _, share = along_facets(system, facets)
    return np.asarray(nodes[:, a, None] + share * (nodes[:, b] - nodes[:, a])[:, :, None])
