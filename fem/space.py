"""The quadratic space on a section mesh: shape functions, gradients and measures as arrays for batched products."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np
from skfem import Basis, ElementQuad2, FacetBasis, MeshQuad
from skfem.mapping import MappingIsoparametric

from meltzone.fem.measure import plane, revolved
from meltzone.geometry.mesh import SectionMesh

INVERSE_TOLERANCE = 1e-8  # of a cell's size; the step that passes it lands far below, the iteration being Newton's
ORDER = (
    5  # three Gauss points each way: exact for r times squared gradients on rectangles; more moves a ceiling by 1e-6
)


@dataclass(frozen=True, eq=False)
class Cells:
    """All cells: `dofs` (n, 9); `values` (9, n_q); `gradients` (n, 9, 2 n_q), both components side by side [1/m].

    `volume` (n, n_q) holds 2 pi r dA [m3], `area` (n, n_q) dA [m2].
    """

    dofs: np.ndarray
    values: np.ndarray
    gradients: np.ndarray
    volume: np.ndarray
    area: np.ndarray

    def at_points(self, field: np.ndarray, chosen: np.ndarray) -> np.ndarray:
        """The unknowns `field` (size,) at the quadrature points of the cells `chosen` (n,), shape (n, n_q)."""
        return np.asarray(field[self.dofs[chosen]] @ self.values)


@dataclass(frozen=True, eq=False)
class Facets:
    """The facets `indices` (n,) seen from one side: `dofs` (n, 3); `values` (n, 3, n_q); `area` (n, n_q) = 2 pi r ds [m2].

    `points` (2, n, n_q) [m] are the quadrature points.
    `slope_r` (n, 3, n_q) is the radial derivative of the shape functions times ds, meaningful on horizontal facets [-].
    """

    indices: np.ndarray
    dofs: np.ndarray
    values: np.ndarray
    area: np.ndarray
    points: np.ndarray
    slope_r: np.ndarray

    def traces(self, temperature: np.ndarray) -> np.ndarray:
        """Temperature at the quadrature points, shape (n, n_q), of the unknowns `temperature` [K]."""
        return np.einsum("ei,eiq->eq", temperature[self.dofs], self.values)

    def chosen(self, rows: np.ndarray) -> Facets:
        """Some of the facets, by their place in these arrays."""
        return Facets(
            self.indices[rows],
            self.dofs[rows],
            self.values[rows],
            self.area[rows],
            self.points[:, rows],
            self.slope_r[rows],
        )

    def flow_through(self, stream: np.ndarray) -> np.ndarray:
        """Share of a unit flow through each quadrature point of horizontal facets, (n, n_q), for the stream function [-]."""
        return np.einsum("ei,eiq->eq", stream[self.dofs], self.slope_r)


@dataclass(frozen=True, eq=False)
class Space:
    """Quadratic quadrilaterals on `section`; unknowns are temperatures at `points`, shape (2, n) [m]."""

    section: SectionMesh

    @cached_property
    def basis(self) -> Basis:
        """The library's basis of all cells."""
        return Basis(self.section.mesh, ElementQuad2(), intorder=ORDER)

    @property
    def size(self) -> int:
        """Number of unknown temperatures."""
        return int(self.basis.N)

    @property
    def points(self) -> np.ndarray:
        """Where the unknowns sit, (r, z), shape (2, size) [m]."""
        return np.asarray(self.basis.doflocs)

    @cached_property
    def cells(self) -> Cells:
        """Arrays of all cells."""
        basis = self.basis
        shapes = [basis.basis[i][0] for i in range(basis.Nbfun)]
        n, n_q = basis.dx.shape
        values = np.array([np.broadcast_to(np.asarray(s), (n, n_q))[0] for s in shapes])
        gradients = np.empty((n, len(shapes), 2 * n_q))
        for i, shape in enumerate(shapes):
            gradients[:, i, :n_q], gradients[:, i, n_q:] = shape.grad
        return Cells(basis.element_dofs.T, values, gradients, revolved(basis), plane(basis))

    def facets(self, indices: np.ndarray) -> Facets:
        """Arrays of the facets `indices` (n,), seen from their only cell or from their first one."""
        every, indices = self._tagged_facets, np.asarray(indices)
        if np.isin(indices, every.indices).all():
            return every.chosen(np.searchsorted(every.indices, indices))
        return self._made_facets(indices)

    @cached_property
    def _tagged_facets(self) -> Facets:
        """All facets that carry a tag, in rising order: made at once, since making is dear and choosing is not."""
        tags = [np.asarray(tag) for tag in self.section.mesh.boundaries.values()]
        return self._made_facets(np.unique(np.concatenate(tags)))

    def _made_facets(self, indices: np.ndarray) -> Facets:
        mesh = self.section.mesh
        fb = FacetBasis(mesh, ElementQuad2(), _patient_mapping(mesh), facets=indices, intorder=ORDER)
        n, n_q = fb.dx.shape
        shapes = [fb.basis[i][0] for i in range(fb.Nbfun)]
        values = np.stack([np.broadcast_to(np.asarray(s), (n, n_q)) for s in shapes], axis=1)
        # only the three shape functions of the facet's own nodes have a trace on it
        own = np.sort(np.argsort(-np.abs(values).max(axis=2), axis=1, kind="stable")[:, :3], axis=1)
        rows = np.arange(n)[:, None]
        slope = np.stack([s.grad[0] for s in shapes], axis=1)[rows, own] * fb.dx[:, None, :]
        points = np.asarray(fb.global_coordinates())
        return Facets(indices, fb.element_dofs.T[rows, own], values[rows, own], revolved(fb), points, slope)

    def cells_of(self, part: str) -> np.ndarray:
        """Cells of a part."""
        return np.asarray(self.section.mesh.subdomains[part])

    def dofs_of(self, part: str) -> np.ndarray:
        """Unknowns of a part, each once."""
        if part not in self._part_dofs:
            self._part_dofs[part] = np.unique(self.cells.dofs[self.cells_of(part)])
        return self._part_dofs[part]

    @cached_property
    def _part_dofs(self) -> dict[str, np.ndarray]:
        return {}

    def facet_dofs(self, tag: str) -> np.ndarray:
        """Unknowns on the boundary `tag`, each once."""
        return np.unique(self.facets(self.section.mesh.boundaries[tag]).dofs)


def _patient_mapping(mesh: MeshQuad) -> MappingIsoparametric:
    """The mesh's mapping, whose inverse may end at the round-off of cells down to 10 nm, ten digits below a hot end."""
    mapping = MappingIsoparametric(mesh, mesh.elem(), mesh.bndelem)
    mapping.invF = partial(mapping.invF, newton_tol=INVERSE_TOLERANCE)
    return mapping
