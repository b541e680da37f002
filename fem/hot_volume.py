"""Volume of polymer above a temperature, with its derivative by every unknown: cells cut along the level line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from skfem import ElementQuad2

from meltzone.fem.measure import TWO_PI
from meltzone.fem.space import Space

CUTS = 4  # every cell is divided into CUTS x CUTS squares, each into two triangles with straight level lines


@dataclass(frozen=True, eq=False)
class HotVolume:
    """`volume` [m3] above a temperature, and `by_temperature` (size,), its derivative by the unknowns [m3/K]."""

    volume: float
    by_temperature: np.ndarray


def volume_above(
    space: Space,
    temperature: np.ndarray,
    threshold: float,
    nodes: np.ndarray | None = None,
    shares: np.ndarray | None = None,
) -> HotVolume:
    """Volume of the part "polymer" whose `temperature` (size,) [K] exceeds `threshold` [K].

    With `nodes` (2, n) [m] the mesh's nodes are taken to lie there, the temperatures riding on them; `shares` (n_cells,) [-] is
    what the polymer fills of each cell of the mesh, all of it unless given. On every triangle the
    temperature is linear between its corners, and the volume of revolution of what lies above is exact: so it is
    continuous, with continuous slope, in temperatures and places.
    """
    cells = space.cells_of("polymer")
    mesh = space.section.mesh
    p = mesh.p if nodes is None else nodes
    shapes, bilinear = _at_lattice()
    dofs = space.cells.dofs[cells]
    excess = temperature[dofs] @ shapes - threshold
    places = np.einsum("cke,kl->cel", p[:, mesh.t[:, cells]], bilinear)
    corners = _triangles()
    volume, slope = _above(excess[:, corners], places[0][:, corners], places[1][:, corners])
    filled = np.ones(len(cells)) if shares is None else shares[cells]
    volume, slope = filled[:, None] * volume, filled[:, None, None] * slope
    by_lattice = np.stack([slope[:, corners == point].sum(axis=1) for point in range(shapes.shape[1])], axis=1)
    weights = (by_lattice @ shapes.T).ravel()
    by_temperature = np.bincount(dofs.ravel(), weights=weights, minlength=space.size)
    return HotVolume(float(volume.sum()), by_temperature)


def _at_lattice() -> tuple[np.ndarray, np.ndarray]:
    """Quadratic shape functions (9, n) and bilinear ones (4, n) at the lattice points of the unit square, row by row."""
    line = np.linspace(0.0, 1.0, CUTS + 1)
    x, y = (axis.ravel() for axis in np.meshgrid(line, line))
    element = ElementQuad2()
    points = np.vstack([x, y])
    shapes = np.array([np.broadcast_to(element.lbasis(points, i)[0], x.shape) for i in range(9)])
    return shapes, np.array([(1.0 - x) * (1.0 - y), x * (1.0 - y), x * y, (1.0 - x) * y])


def _triangles() -> np.ndarray:
    """Lattice points of every triangle, (2 CUTS^2, 3)."""
    first = (np.arange(CUTS)[:, None] * (CUTS + 1) + np.arange(CUTS)).ravel()
    lower = np.stack([first, first + 1, first + CUTS + 2], axis=1)
    upper = np.stack([first, first + CUTS + 2, first + CUTS + 1], axis=1)
    return np.vstack([lower, upper])


def _above(excess: np.ndarray, r: np.ndarray, z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Revolved volume of each triangle's share with excess above zero, and its slope by the corners' excess.

    All of shape (n, m, 3), corners last; returns (n, m) [m3] and (n, m, 3) [m3/K].
    """
    order = np.argsort(-excess, axis=-1, kind="stable")
    e, r_sorted = (np.take_along_axis(a, order, axis=-1) for a in (excess, r))
    area = 0.5 * np.abs(
        (r[..., 1] - r[..., 0]) * (z[..., 2] - z[..., 0]) - (r[..., 2] - r[..., 0]) * (z[..., 1] - z[..., 0])
    )
    whole = TWO_PI * area * r.mean(axis=-1)
    tip, by_tip = _corner(e, r_sorted, area)
    foot, by_foot = _corner(e[..., ::-1], r_sorted[..., ::-1], area)
    above = np.sum(e > 0.0, axis=-1)
    volume = np.select([above == 0, above == 1, above == 2], [np.zeros_like(whole), tip, whole - foot], whole)
    empty = np.zeros_like(by_tip)
    slope = np.select([(above == 1)[..., None], (above == 2)[..., None]], [by_tip, -by_foot[..., ::-1]], empty)
    unsorted = np.empty_like(slope)
    np.put_along_axis(unsorted, order, slope, axis=-1)
    return volume, unsorted


def _corner(e: np.ndarray, r: np.ndarray, area: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Revolved volume of the small triangle at the first corner, cut where the excess `e` is zero, and its slope by `e`."""
    first = e[..., :1]
    apart = first - e[..., 1:]
    safe = np.where(apart == 0.0, 1.0, apart)
    s = first / safe
    reach = r[..., 1:] - r[..., :1]
    middle = r[..., 0] + np.sum(s * reach, axis=-1) / 3.0
    both = s[..., 0] * s[..., 1]
    volume = TWO_PI * area * both * middle
    by_s = TWO_PI * area[..., None] * (s[..., ::-1] * middle[..., None] + both[..., None] * reach / 3.0)
    by_first = np.sum(by_s * -e[..., 1:] / safe**2, axis=-1)
    return volume, np.concatenate([by_first[..., None], by_s * first / safe**2], axis=-1)
