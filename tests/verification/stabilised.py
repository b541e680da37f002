"""A streamline-upwind (SUPG) variant of the solver's operator, consistent to second derivatives: the rival in the study."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from meltzone.fem.linearise import Linearisation
from meltzone.fem.newton import Condition
from meltzone.fem.space import Space
from meltzone.fem.sparse import factorised, scatter
from meltzone.fem.system import System

ORDER_OF_SHAPES = 2


def _line_shapes(x: np.ndarray, node: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Quadratic Lagrange polynomial of the `node` among 0, 1/2, 1: value, first and second derivative at `x`."""
    others = [n for n in (0.0, 0.5, 1.0) if n != node]
    scale = 1.0 / ((node - others[0]) * (node - others[1]))
    value = scale * (x - others[0]) * (x - others[1])
    return value, scale * (2.0 * x - others[0] - others[1]), np.full_like(x, 2.0 * scale)


def laplacians(space: Space, cells: np.ndarray) -> np.ndarray:
    """d2N/dr2 + d2N/dz2 of the biquadratic shapes on bilinear cells at the quadrature points, shape (n, 9, n_q) [1/m2]."""
    inverse, twist = _inverse_jacobians(space, cells)
    x, y = space.basis.X
    n_q = x.size
    grad = space.cells.gradients[cells]
    metric = np.einsum("eqai,eqbi->eqab", inverse, inverse)  # grad xi_a . grad xi_b
    result = np.empty((cells.size, 9, n_q))
    for i, (a, b) in enumerate(space.basis.elem.doflocs):
        (u, u1, u2), (v, v1, v2) = _line_shapes(x, a), _line_shapes(y, b)
        # the mixed derivative of the map takes its share of the mixed derivative of the shape
        bent = twist[:, 0, None] * grad[:, i, :n_q] + twist[:, 1, None] * grad[:, i, n_q:]
        mixed = (u1 * v1)[None] - bent
        result[:, i] = (
            metric[:, :, 0, 0] * (u2 * v)[None] + metric[:, :, 1, 1] * (u * v2)[None] + 2.0 * metric[:, :, 0, 1] * mixed
        )
    return result


def _inverse_jacobians(space: Space, cells: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """d(xi, eta)/d(r, z), shape (n, n_q, 2, 2) [1/m], and the mixed second derivative of the map, (n, 2) [m]."""
    mesh = space.section.mesh
    p = mesh.p[:, mesh.t[:, cells]]  # (2, 4, n)
    x, y = (c[None] for c in space.basis.X)
    along = [((p[i, 1] - p[i, 0])[:, None] * (1 - y) + (p[i, 2] - p[i, 3])[:, None] * y) for i in (0, 1)]
    across = [((p[i, 3] - p[i, 0])[:, None] * (1 - x) + (p[i, 2] - p[i, 1])[:, None] * x) for i in (0, 1)]
    jacobian = np.stack([np.stack(along, -1), np.stack(across, -1)], -1)
    return np.linalg.inv(jacobian), (p[:, 0] - p[:, 1] + p[:, 2] - p[:, 3]).T


@dataclass(frozen=True, eq=False)
class Upwinding:
    """What is added to `system` at a mass flow [kg/s]: the sum over cells of tau u . grad v times the strong residual.

    1/tau = 2 p |u|/h_s + `crosswise` 4 p^4 alpha/h_min^2 with p = 2, h_s the cell's length along the stream, h_min its narrow
    side; properties of the state `about`. The second part keeps the term coercive in cells that are narrow across the
    stream (constants after Codina, from memory). `source` is a heat source at the quadrature points of all cells [W/m3].
    """

    system: System
    mass_flow: float
    about: np.ndarray
    source: np.ndarray | None = None
    crosswise: float = 1.0

    @property
    def cells(self) -> np.ndarray:
        """Cells of the polymer."""
        return self.system.polymer_cells

    @cached_property
    def _flux(self) -> np.ndarray:
        """Mass flux G at the quadrature points, (n, n_q, 2) [kg/m2/s]."""
        volume = self.system.space.cells.volume[self.cells]
        n_q = volume.shape[1]
        drift = self.mass_flow * self.system.drift
        return np.stack([drift[:, :n_q], drift[:, n_q:]], -1) / volume[:, :, None]

    @cached_property
    def _test(self) -> np.ndarray:
        """tau u . grad v times 2 pi r dA, (n, 9, n_q) [m3]."""
        space, polymer = self.system.space, self.system.problem.materials.polymer
        here = self.about[space.cells.dofs[self.cells]] @ space.cells.values
        speed = np.linalg.norm(self._flux, axis=2)
        direction = self._flux / np.maximum(speed, 1e-300)[:, :, None]
        inverse, _ = _inverse_jacobians(space, self.cells)
        length = 1.0 / np.linalg.norm(np.einsum("eqai,eqi->eqa", inverse, direction), axis=2)
        spread = np.square(inverse).sum(axis=(2, 3))  # 1/h^2 of the narrower side, nearly [1/m2]
        diffusion = polymer.conductivity(here) / polymer.enthalpy_slope(here) * spread
        rate = 2.0 * ORDER_OF_SHAPES * speed / length + self.crosswise * 4.0 * ORDER_OF_SHAPES**4 * diffusion
        return self._along((speed / rate * space.cells.volume[self.cells])[:, :, None] * direction)

    def _along(self, vector: np.ndarray) -> np.ndarray:
        """vector . grad of every shape, (n, 9, n_q)."""
        grad = self.system.space.cells.gradients[self.cells]
        n_q = vector.shape[1]
        return grad[:, :, :n_q] * vector[:, None, :, 0] + grad[:, :, n_q:] * vector[:, None, :, 1]

    @cached_property
    def _second(self) -> np.ndarray:
        """Laplacian with the 1/r term of the axisymmetric divergence, (n, 9, n_q) [1/m2]."""
        space = self.system.space
        radius = space.basis.global_coordinates().value[0][self.cells]
        by_r = space.cells.gradients[self.cells][:, :, : radius.shape[1]]
        return laplacians(space, self.cells) + by_r / radius[:, None]

    def terms(self, temperature: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Load (n, 9) [W] and tangent (n, 9, 9) [W/K] on the polymer's cells."""
        cells, polymer = self.system.space.cells, self.system.problem.materials.polymer
        local = temperature[cells.dofs[self.cells]]
        here = local @ cells.values
        grad = cells.gradients[self.cells]
        slope = np.einsum("ei,eij->ej", local, grad)
        n_q = here.shape[1]
        square = slope[:, :n_q] ** 2 + slope[:, n_q:] ** 2
        k, dk = polymer.conductivity(here), polymer.conductivity.slope(here)
        cp = polymer.enthalpy_slope(here)
        dcp = (polymer.enthalpy_slope(here + 0.05) - polymer.enthalpy_slope(here - 0.05)) / 0.1
        carried = self._along(self._flux)
        drift, second = np.einsum("ei,eiq->eq", local, carried), np.einsum("ei,eiq->eq", local, self._second)
        strong = cp * drift - k * second - dk * square
        if self.source is not None:
            strong = strong - self.source[self.cells]
        trial = carried * cp[:, None] - self._second * k[:, None]
        trial -= 2.0 * dk[:, None] * self._along(np.stack([slope[:, :n_q], slope[:, n_q:]], -1))
        trial += cells.values[None] * (dcp * drift - dk * second)[:, None]
        load = np.einsum("eiq,eq->ei", self._test, strong)
        return load, np.matmul(self._test, trial.transpose(0, 2, 1))


def solved_with(
    upwinding: Upwinding | None,
    system: System,
    start: np.ndarray,
    flow: float,
    power: float = 0.0,
    condition: Condition | None = None,
) -> tuple[np.ndarray, float]:
    """Temperatures [K] and power [W]; with `condition` the power is an unknown. Without `upwinding` plain Galerkin."""
    temperature = start.astype(float)
    for _ in range(60):
        here = Linearisation.at(system, temperature, flow, power)
        residual = here.residual
        if upwinding:
            load, matrix = upwinding.terms(temperature)
            dofs = system.space.cells.dofs[upwinding.cells]
            residual = residual + scatter([load], [dofs], system.space.size)
            here.entries[0][upwinding.cells] += matrix
        residual[system.inlet] = 0.0
        lu = factorised(here.tangent())
        move = lu.solve(-residual)
        if condition:
            border = lu.solve(system.source)
            change = -(condition.miss(temperature) + condition.along(move)) / condition.along(border)
            move, power = move + float(change) * border, power + float(change)
        temperature = temperature + move
        if np.abs(move).max() < 1e-7 * np.abs(temperature).max():
            return temperature, power
    raise RuntimeError(f"the study's Newton iteration did not converge: last move {np.abs(move).max():.1e} K")
