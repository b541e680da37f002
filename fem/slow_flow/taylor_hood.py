"""Velocity and pressure on a section in revolution: quadratic velocity, linear pressure, rates of strain as arrays."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from skfem import Basis, ElementQuad1, ElementQuad2, MeshQuad

from meltzone.fem.measure import revolved

ORDER = 6  # as for the temperatures, so that both see the same points


@dataclass(frozen=True, eq=False)
class FlowSpace:
    """Taylor and Hood's pair on the `cells` of `mesh`: nine-node velocity, four-node continuous pressure.

    Velocity unknowns: the radial components at `nodes`, then the axial ones; (2 n,) [m/s]. `nodes` (n,) are numbers of the
    quadratic unknowns of the whole mesh, so that temperatures are found by them. Pressures stand at `vertices` [Pa].
    Source: Taylor and Hood 1973, Computers and Fluids 1:73-100 (from memory).
    """

    mesh: MeshQuad
    cells: np.ndarray

    @cached_property
    def basis(self) -> Basis:
        """The quadratic basis on the cells."""
        return Basis(self.mesh, ElementQuad2(), elements=self.cells, intorder=ORDER)

    @cached_property
    def nodes(self) -> np.ndarray:
        """Quadratic unknowns of the mesh that carry velocity, (n,)."""
        return np.unique(self.basis.element_dofs)

    @cached_property
    def vertices(self) -> np.ndarray:
        """Vertices of the mesh that carry pressure, (m,)."""
        return np.unique(self.mesh.t[:, self.cells])

    @property
    def size(self) -> int:
        """Number of velocity nodes, n."""
        return int(self.nodes.size)

    @property
    def points(self) -> np.ndarray:
        """Where the velocity nodes lie, (r, z), (2, n) [m]."""
        return np.asarray(self.basis.doflocs)[:, self.nodes]

    @cached_property
    def local(self) -> np.ndarray:
        """Velocity nodes of every cell, (n_cells, 9)."""
        return np.searchsorted(self.nodes, self.basis.element_dofs.T)

    @cached_property
    def dofs(self) -> np.ndarray:
        """Velocity unknowns of every cell, radial then axial, (n_cells, 18)."""
        return np.hstack([self.local, self.local + self.size])

    @cached_property
    def pressure_dofs(self) -> np.ndarray:
        """Pressure unknowns of every cell, (n_cells, 4)."""
        return np.searchsorted(self.vertices, self.mesh.t[:, self.cells].T)

    @cached_property
    def volume(self) -> np.ndarray:
        """2 pi r dA at the quadrature points, (n_cells, n_q) [m3]."""
        return revolved(self.basis)

    @cached_property
    def values(self) -> np.ndarray:
        """The nine shape functions at the quadrature points of a cell, (9, n_q)."""
        shape = self.basis.dx.shape
        return np.array([np.broadcast_to(np.asarray(self.basis.basis[i][0]), shape)[0] for i in range(9)])

    @cached_property
    def pressure_values(self) -> np.ndarray:
        """The four linear shape functions at the quadrature points of a cell, (4, n_q)."""
        basis = Basis(self.mesh, ElementQuad1(), elements=self.cells[:1], intorder=ORDER)
        return np.array([np.broadcast_to(np.asarray(basis.basis[i][0]), basis.dx.shape)[0] for i in range(4)])

    @cached_property
    def strain(self) -> np.ndarray:
        """Rates of strain of the 18 unknowns, (n_cells, n_q, 4, 18): rr, zz, hoop u_r/r, and sqrt(2) rz [1/m].

        So D:D is the sum of the four squares.
        """
        n, n_q = self.basis.dx.shape
        radius = np.asarray(self.basis.global_coordinates())[0]
        rates = np.zeros((n, n_q, 4, 18))
        for i in range(9):
            by_r, by_z = self.basis.basis[i][0].grad
            rates[:, :, 0, i], rates[:, :, 1, i + 9] = by_r, by_z
            rates[:, :, 2, i] = self.values[i] / radius
            rates[:, :, 3, i], rates[:, :, 3, i + 9] = by_z / math.sqrt(2.0), by_r / math.sqrt(2.0)
        return rates

    def rates(self, velocity: np.ndarray) -> np.ndarray:
        """Rates of strain of a velocity (2 n,) at the quadrature points, (n_cells, n_q, 4) [1/s]."""
        n, n_q = self.volume.shape
        flat = self.strain.reshape(n, n_q * 4, 18)
        return np.asarray(np.matmul(flat, velocity[self.dofs][:, :, None])).reshape(n, n_q, 4)

    def at_points(self, nodal: np.ndarray) -> np.ndarray:
        """Values at the quadrature points, (n_cells, n_q), of a quantity at the velocity nodes (n,)."""
        return np.asarray(nodal[self.local] @ self.values)
