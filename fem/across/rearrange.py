"""Splitting a round stream over a ring of holes and joining it again: layers keep their order, nothing mixes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import csr_array
from scipy.spatial import KDTree
from skfem import ElementQuad2, MeshQuad2

from meltzone.fem.across.section import Section, quantile

CANDIDATES = 6  # cells with the nearest middles, among which a point's own is found
TABLE = 2001  # radii at which the share of a hole is tabulated
NEWTON_STEPS = 8
NEARBY = 0.3  # local coordinates are sought this far outside their cell, where another is the right one


@dataclass(frozen=True)
class Ring:
    """`count` holes of radius `hole` [m] on the radius `ring` [m], which divide a bore of radius `bore` [m]; plug flow.

    A point of a hole at the distance r from the nozzle's axis belongs to the radius of the bore inside which the same share
    of the flow passes; along the arc of that radius, the arc through the hole is stretched over the half wedge. Both
    together keep areas in proportion, as plug flow asks.
    """

    count: int
    hole: float
    ring: float
    bore: float

    def half_angle(self, radius: np.ndarray) -> np.ndarray:
        """Angle [rad] at the nozzle's axis under which half the hole's arc of `radius` (n,) [m] is seen."""
        a, c, r = self.hole, self.ring, radius
        return np.asarray(np.arccos(np.clip((r**2 + c**2 - a**2) / (2.0 * r * c), -1.0, 1.0)))

    def share_inside(self, radius: np.ndarray) -> np.ndarray:
        """Share of a hole's area [-] nearer to the nozzle's axis than `radius` (n,) [m]: two circles' lens over the hole."""
        a, c = self.hole, self.ring
        r = np.clip(radius, c - a, c + a)
        seen = np.arccos(np.clip((c**2 + a**2 - r**2) / (2.0 * c * a), -1.0, 1.0))
        kite = np.sqrt(np.maximum((a + c - r) * (r + a - c) * (r + c - a) * (r + a + c), 0.0))
        return np.asarray((r**2 * self.half_angle(r) + a**2 * seen - 0.5 * kite) / (np.pi * a**2))

    def radius_of(self, share: np.ndarray) -> np.ndarray:
        """Distance from the nozzle's axis [m] inside which `share` (n,) [-] of a hole lies."""
        radii, shares = self._table
        return np.interp(share, shares, radii)

    @cached_property
    def _table(self) -> tuple[np.ndarray, np.ndarray]:
        # dense at both ends, where the share grows with the power 3/2 of the depth
        radii = self.ring - self.hole * np.cos(np.linspace(0.0, np.pi, TABLE))
        return radii, self.share_inside(radii)


def split(ring: Ring, bore: Section, hole: Section) -> np.ndarray:
    """Matrix (n_hole, n_bore) that takes temperatures over the bore's radius to those in half a hole.

    `bore` is a `bore_section`, `hole` the section of the holes. A projection over the shares of the flow, so that
    the mean is kept; webs get zero.
    """
    distance = np.hypot(*hole.points)
    wanted = ring.bore * np.sqrt(np.clip(ring.share_inside(distance), 0.0, 1.0))
    return _projected(hole, along_radius(bore, wanted), bore.share @ bore.values)


def join(ring: Ring, mesh: MeshQuad2, hole: Section, sector: Section) -> np.ndarray:
    """Matrix (n_sector, n_hole) that takes temperatures in half a hole to the half wedge of the bore behind.

    `mesh` and `hole` are those of the holes, `sector` a `disc` of twice as many pieces as there are holes.
    """
    radius, angle = np.hypot(*sector.points), np.arctan2(sector.points[1], sector.points[0])
    distance = ring.radius_of(np.clip((radius / ring.bore) ** 2, 0.0, 1.0))
    turn = angle * ring.count / np.pi * ring.half_angle(distance)
    there = distance * np.stack([np.cos(turn), np.sin(turn)])
    return _projected(sector, _at_places(mesh, there), hole.share @ hole.values)


def sorted_inwards(hole: Section, temperature: np.ndarray, bore: Section, radius: float) -> np.ndarray:
    """Temperatures over the radius (n_bore,) [K] of the flow in the holes sorted, coldest on the axis: the other extreme.

    `temperature` (n_hole,) [K]; `bore` of the `radius` [m]. The distribution is kept, not the places.
    """
    at_points = hole.values @ temperature
    wanted = (bore.points[0] / radius) ** 2
    found = np.array([quantile(at_points, hole.share, share) for share in wanted])
    return _projected(bore, csr_array(found[:, None]), np.array([hole.mean(temperature)])).ravel()


def along_radius(bore: Section, radius: np.ndarray) -> csr_array:
    """Matrix (m, n) that takes the unknowns of a `bore_section` to the temperatures at `radius` (m,) [m]."""
    order = np.argsort(bore.places[0])
    nodes = bore.places[0][order]
    first = 2 * np.clip(np.searchsorted(nodes[::2], radius, side="right") - 1, 0, (nodes.size - 3) // 2)
    x = (radius - nodes[first]) / (nodes[first + 2] - nodes[first])
    shapes = np.stack([(1.0 - x) * (1.0 - 2.0 * x), 4.0 * x * (1.0 - x), x * (2.0 * x - 1.0)])
    columns = order[first + np.arange(3)[:, None]]
    rows = np.broadcast_to(np.arange(radius.size), columns.shape)
    return csr_array((shapes.ravel(), (rows.ravel(), columns.ravel())), shape=(radius.size, nodes.size))


def _projected(section: Section, at_points: csr_array, mean: np.ndarray) -> np.ndarray:
    """Least squares over the flow of what is given at the points (m, n), moved evenly to the `mean` (n,)."""
    polymer = section.polymer
    mass = section.carried[polymer][:, polymer].toarray()
    found = np.zeros((section.size, at_points.shape[1]))
    load = section.values.T @ (section.share[:, None] * at_points)
    found[polymer] = np.linalg.solve(mass, load.toarray()[polymer])
    found[polymer] += mean - section.share @ (section.values @ found)
    return found


def _at_places(mesh: MeshQuad2, places: np.ndarray) -> csr_array:
    """Matrix (m, n) that takes the unknowns of a `mesh` to the values at `places` (2, m) [m] in the polymer."""
    cells = mesh.subdomains["polymer"]
    unknowns = mesh.dofs.element_dofs[:, cells]
    middle = mesh.doflocs[:, unknowns[8]]
    _, near = KDTree(middle.T).query(places.T, k=min(CANDIDATES, cells.size))
    tried = [_inverted(mesh.doflocs[:, unknowns[:, column]], places) for column in near.T]
    best = np.argmin([miss for _, miss in tried], axis=0)
    rows = np.arange(places.shape[1])
    inside = np.clip(np.stack([local for local, _ in tried])[best, :, rows].T, 0.0, 1.0)
    shapes, _ = _shapes(inside)
    columns = unknowns[:, near[rows, best]]
    place = (np.broadcast_to(rows, columns.shape).ravel(), columns.ravel())
    return csr_array((shapes.ravel(), place), shape=(rows.size, mesh.doflocs.shape[1]))


def _inverted(nodes: np.ndarray, places: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Local coordinates (2, m) of `places` (2, m) in the cells with `nodes` (2, 9, m), and by how much they miss, (m,)."""
    local = np.full(places.shape, 0.5)
    for _ in range(NEWTON_STEPS):
        shapes, slopes = _shapes(local)
        apart = places - np.einsum("dim,im->dm", nodes, shapes)
        (a, b), (c, d) = np.einsum("dim,eim->dem", nodes, slopes)
        with np.errstate(divide="ignore", invalid="ignore"):  # outside its cell the mapping may fold
            step = np.stack([d * apart[0] - b * apart[1], a * apart[1] - c * apart[0]]) / (a * d - b * c)
        local = np.clip(local + step, -NEARBY, 1.0 + NEARBY)
    missed = np.max(np.maximum(-local, local - 1.0), axis=0) + np.abs(step).max(axis=0)
    return local, np.where(np.isnan(missed), np.inf, missed)


def _shapes(local: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Quadratic shape functions (9, m) and their slopes (2, 9, m) at the local coordinates (2, m)."""
    element = ElementQuad2()
    found = [element.lbasis(local, i) for i in range(9)]
    return np.array([shape for shape, _ in found]), np.stack([slope for _, slope in found], axis=1)
