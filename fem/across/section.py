"""A section across the flow as matrices: values and slopes at points, shares of the flow, webs, joint and wall."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from scipy.optimize import brentq
from scipy.sparse import csr_array
from scipy.special import expit
from skfem import Basis, BilinearForm, DiscreteField, ElementLineP2, ElementQuad2, FacetBasis, MeshLine, asm
from skfem.helpers import dot, grad

from meltzone.geometry.cross_section import POLYMER_SIDE, WALL, WEB_SIDE, CrossSection
from meltzone.geometry.patches import graded

ORDER = 6  # four Gauss points each way
LINE_ORDER = 6  # the same by the radius
BORE_GRADING = 0.2  # last over first cell of a bore's radius
SPREAD = 0.01  # of the range of temperatures: what a point of the section stands for
LEAST_SPREAD = 1e-250  # what is left far down is all the same


@dataclass(frozen=True, eq=False)
class Section:
    """A whole section per length of flow, from one symmetric piece; n unknown temperatures, m points in the polymer.

    `values` (m, n) takes unknowns to points, `slopes`, one (m, n) a direction, to gradients [1/m]. `area` (m,) [m2] and
    `share` (m,) of the flow [-], which sums to 1, are the points' weights. `solid` (n, n) [W/m/K] conducts through webs and
    across their joint. `wall` (n, n) [m] integrates over the heated wall, which exchanges heat by `film` [W/m2/K], or is
    held at its temperature where that is infinite: `held` are the unknowns then given.
    `places` (d, n) [m] are the unknowns' coordinates, `points` (d, m) [m] the points'.
    """

    values: csr_array
    slopes: tuple[csr_array, ...]
    area: np.ndarray
    share: np.ndarray
    solid: csr_array
    wall: csr_array
    film: float
    held: np.ndarray
    places: np.ndarray
    points: np.ndarray

    @property
    def size(self) -> int:
        """Number of unknown temperatures."""
        return int(self.values.shape[1])

    @cached_property
    def free(self) -> np.ndarray:
        """Unknowns that are not held."""
        return np.setdiff1d(np.arange(self.size), self.held)

    @cached_property
    def carried(self) -> csr_array:
        """Integral of one unknown's shape times another's over the shares of the flow, (n, n) [-]."""
        return csr_array(self.values.T @ weighted(self.values, self.share))

    @cached_property
    def polymer(self) -> np.ndarray:
        """Unknowns in the polymer."""
        return np.flatnonzero(self.carried.diagonal() > 0.0)

    @cached_property
    def flowing(self) -> np.ndarray:
        """Unknowns in the polymer that are not held."""
        return np.intersect1d(self.polymer, self.free)

    @cached_property
    def webs(self) -> np.ndarray:
        """Unknowns in the webs that are not held."""
        return np.setdiff1d(self.free, self.polymer)

    @cached_property
    def mass(self) -> np.ndarray:
        """What is carried of the `flowing` unknowns, (m, m) [-], dense."""
        return np.asarray(self.carried[self.flowing][:, self.flowing].toarray())

    @cached_property
    def dense_outside(self) -> np.ndarray:
        """`outside`, dense, (n, n) [W/m/K]."""
        return np.asarray(self.outside.toarray())

    @cached_property
    def outside(self) -> csr_array:
        """Conduction that does not depend on temperature: webs, joint and the wall's film, (n, n) [W/m/K]."""
        return self.solid if self.held.size else csr_array(self.solid + self.film * self.wall)

    @cached_property
    def unit_conduction(self) -> np.ndarray:
        """Conduction in a polymer of 1 W/m/K, (n, n) [-], dense."""
        return np.asarray(self.conduction(np.ones(self.area.size)).toarray())

    def conduction(self, conductivity: np.ndarray) -> csr_array:
        """Conduction in the polymer, (n, n) [W/m/K], with `conductivity` (m,) [W/m/K] at the points."""
        weights = self.area * conductivity
        return csr_array(sum(slope.T @ weighted(slope, weights) for slope in self.slopes))

    def mean(self, temperature: np.ndarray) -> float:
        """Mean over the flow [K] of the unknowns `temperature` (n,) [K]."""
        return float(self.share @ (self.values @ temperature))

    def coldest(self, temperature: np.ndarray, share: float) -> float:
        """Temperature [K] below which `share` of the flow is, of the unknowns `temperature` (n,) [K]."""
        return smooth_quantile(self.values @ temperature, self.share, share)


def weighted(matrix: csr_array, weights: np.ndarray) -> csr_array:
    """The rows of `matrix`, shape (m, n), times their `weights`, shape (m,); any unit."""
    data = matrix.data * np.repeat(weights, np.diff(matrix.indptr))
    return csr_array((data, matrix.indices, matrix.indptr), shape=matrix.shape)


def smooth_quantile(values: np.ndarray, weights: np.ndarray, share: float) -> float:
    """`quantile` of `values` (n,) with every weight spread over a hundredth of their range: it has a slope by all of them.

    The root x of sum of w / (1 + exp((v - x) / d)) = share.
    """
    low, high = float(values.min()), float(values.max())
    spread = SPREAD * (high - low)
    if spread < LEAST_SPREAD:
        return low

    def excess(x: float) -> float:
        return float(weights @ expit((x - values) / spread)) - share

    return float(brentq(excess, low - 40.0 * spread, high + 40.0 * spread, xtol=1e-12 * spread))


def quantile(values: np.ndarray, weights: np.ndarray, share: float) -> float:
    """Value below which `share` of the `weights` (n,) lie, of `values` (n,), any unit; each weight sits about its value."""
    order = np.argsort(values, kind="stable")
    sorted_weights = weights[order]
    return float(np.interp(share, np.cumsum(sorted_weights) - 0.5 * sorted_weights, values[order]))


@BilinearForm
def _conduction(u: DiscreteField, v: DiscreteField, _: dict) -> np.ndarray:
    return dot(grad(u), grad(v))


@BilinearForm
def _trace(u: DiscreteField, v: DiscreteField, _: dict) -> np.ndarray:
    return u * v


@dataclass(frozen=True, eq=False)
class _Shape:
    """What a `Section` takes from its mesh alone; `webs` conduct 1 W/m/K and `joint` 1 W/m2/K."""

    values: csr_array
    slopes: tuple[csr_array, ...]
    area: np.ndarray
    webs: csr_array
    joint: csr_array
    wall: csr_array
    rim: np.ndarray
    places: np.ndarray
    points: np.ndarray


@lru_cache(maxsize=64)
def _shape_of(cross: CrossSection) -> _Shape:
    basis = Basis(cross.mesh, ElementQuad2(), intorder=ORDER)
    flowing = basis.with_elements("polymer")
    wall = FacetBasis(cross.mesh, ElementQuad2(), facets=WALL, intorder=ORDER)
    values, *slopes = _at_points(flowing, basis.N)
    webs, joint = _solid(basis)
    return _Shape(
        values=values,
        slopes=tuple(slopes),
        area=(cross.copies * flowing.dx).ravel(),
        webs=csr_array(cross.copies * webs),
        joint=csr_array(cross.copies * joint),
        wall=csr_array(cross.copies * asm(_trace, wall)),
        rim=basis.get_dofs(WALL).flatten(),
        places=np.asarray(basis.doflocs),
        points=np.asarray(flowing.global_coordinates()).reshape(2, -1),
    )


def section_of(
    cross: CrossSection, web_conductivity: float = 0.0, contact: float = 0.0, film: float = np.inf
) -> Section:
    """The matrices of `cross` in plug flow.

    `web_conductivity` [W/m/K] and `contact` [W/m2/K], between polymer and metal, matter where there is metal; `film` [W/m2/K]
    lies between the wall's temperature and the section, infinite for a wall held at it.
    """
    shape = _shape_of(cross)
    return Section(
        values=shape.values,
        slopes=shape.slopes,
        area=shape.area,
        share=shape.area / shape.area.sum(),
        solid=csr_array(web_conductivity * shape.webs + contact * shape.joint),
        wall=shape.wall,
        film=film,
        held=np.zeros(0, dtype=int) if np.isfinite(film) else shape.rim,
        places=shape.places,
        points=shape.points,
    )


def bore_section(radius: float, film: float = np.inf, cells: int = 20) -> Section:
    """The matrices of a round bore in plug flow with temperatures that depend on the radius only; `radius` [m].

    The one direction is the radius, on `cells` cells finer towards the wall; arguments otherwise as in `section_of`.
    """
    mesh = MeshLine(radius * graded(cells, BORE_GRADING)[::2])
    basis = Basis(mesh, ElementLineP2(), intorder=LINE_ORDER)
    values, slope = _at_points(basis, basis.N)
    points = np.asarray(basis.global_coordinates()).reshape(1, -1)
    area = 2.0 * np.pi * points[0] * basis.dx.ravel()
    rim = basis.get_dofs(lambda x: np.isclose(x[0], radius)).flatten()
    wall = csr_array((np.array([2.0 * np.pi * radius]), (rim, rim)), shape=(basis.N, basis.N))
    return Section(
        values=values,
        slopes=(slope,),
        area=area,
        share=area / area.sum(),
        solid=csr_array((basis.N, basis.N)),
        wall=wall,
        film=film,
        held=np.zeros(0, dtype=int) if np.isfinite(film) else rim,
        places=np.asarray(basis.doflocs),
        points=points,
    )


def _solid(basis: Basis) -> tuple[csr_array, csr_array]:
    """Conduction in webs of 1 W/m/K, and across a joint of 1 W/m2/K with the polymer."""
    if "web" not in basis.mesh.subdomains:
        return csr_array((basis.N, basis.N)), csr_array((basis.N, basis.N))
    webs = asm(_conduction, basis.with_elements("web"))
    sides = [FacetBasis(basis.mesh, ElementQuad2(), facets=tag, intorder=ORDER) for tag in (POLYMER_SIDE, WEB_SIDE)]
    jump = _at_points(sides[0], basis.N)[0] - _at_points(sides[1], basis.N)[0]
    return csr_array(webs), csr_array(jump.T @ (sides[0].dx.ravel()[:, None] * jump))


def _at_points(basis: Basis | FacetBasis, size: int) -> list[csr_array]:
    """Values and derivatives of the unknowns at the quadrature points, point after point, each (m, size)."""
    n, n_q = basis.dx.shape
    rows = np.broadcast_to(np.arange(n * n_q).reshape(n, n_q), (basis.Nbfun, n, n_q))
    columns = np.broadcast_to(basis.element_dofs[:, :, None], rows.shape)
    shapes = [basis.basis[i][0] for i in range(basis.Nbfun)]
    fields = [np.array([np.broadcast_to(np.asarray(shape), (n, n_q)) for shape in shapes])]
    fields += [np.array([shape.grad[d] for shape in shapes]) for d in range(shapes[0].grad.shape[0])]
    place = (rows.ravel(), columns.ravel())
    return [csr_array((values.ravel(), place), shape=(n * n_q, size)) for values in fields]
