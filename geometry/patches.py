"""Curved quadrilateral meshes from structured patches: nine nodes a cell, merged where patches of one part meet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from skfem import Basis, ElementQuad2, MeshQuad, MeshQuad2

MERGED = 1e-8  # vertices closer than this share of the section's size are one
OFFSET = 0.31415926  # of the merging distance, so that no round coordinate falls on the edge of its bin
# first and second vertex, then mid-node, of a cell's sides among its 3 x 3 nodes, counted from its first column upwards
SIDES = {"first": ((0, 0), (0, 2)), "last": ((2, 0), (2, 2)), "inner": ((0, 0), (2, 0)), "outer": ((0, 2), (2, 2))}


@dataclass(frozen=True, eq=False)
class Patch:
    """A structured piece of the section's `part`; `points` (2, 2 m + 1, 2 n + 1) [m] give m x n cells of nine nodes.

    `tags` name boundaries, one or several a side: "first" and "last" column, "inner" and "outer" row.
    """

    part: str
    points: np.ndarray
    tags: dict[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def shape(self) -> tuple[int, int]:
        """Cells by column and row."""
        _, columns, rows = self.points.shape
        return (columns - 1) // 2, (rows - 1) // 2

    def nodes(self) -> np.ndarray:
        """Nodes of all cells, (2, m, n, 3, 3) [m], column by column."""
        m, n = self.shape
        i = 2 * np.arange(m)[:, None, None, None] + np.arange(3)[:, None]
        j = 2 * np.arange(n)[:, None, None] + np.arange(3)
        return self.points[:, i, j]

    def tagged(self, side: str) -> np.ndarray:
        """End vertices of the facets on a side, (2, n_facets, 2) [m]."""
        nodes = self.nodes()
        cells = {"first": nodes[:, 0], "last": nodes[:, -1], "inner": nodes[:, :, 0], "outer": nodes[:, :, -1]}[side]
        (a, b), (c, d) = SIDES[side]
        return np.stack([cells[:, :, a, b], cells[:, :, c, d]], axis=2)


def mesh_of(patches: Sequence[Patch]) -> MeshQuad2:
    """The patches as one mesh with subdomains by part; parts share no node, so that a contact can part them.

    Vertices of a part are numbered by their coordinates, so that facets seen from either side of a contact run alike.
    """
    cells = np.concatenate([patch.nodes().reshape(2, -1, 3, 3) for patch in patches], axis=1)
    part = np.concatenate([[patch.part] * int(np.prod(patch.shape)) for patch in patches])
    names = list(dict.fromkeys(part))
    place = np.array([names.index(name) for name in part])
    size = float(np.abs(cells).max())
    corners = cells[:, :, [0, 2, 2, 0], [0, 0, 2, 2]]
    keys, index = _numbered(np.repeat(place, 4), corners.reshape(2, -1), size)
    points = np.zeros((2, len(keys)))
    points[:, index] = corners.reshape(2, -1)
    flat = MeshQuad(points, np.ascontiguousarray(index.reshape(-1, 4).T))
    mesh = _curved(flat, cells)
    vertex = {tuple(key): number for number, key in enumerate(keys)}
    boundaries: dict[str, list[np.ndarray]] = {}
    for patch in patches:
        for side, tags in patch.tags.items():
            ends = patch.tagged(side)
            wanted = _keys(np.full(2 * ends.shape[1], names.index(patch.part)), ends.reshape(2, -1), size)
            facets = _facets(flat, np.array([vertex[tuple(key)] for key in wanted]).reshape(-1, 2))
            for tag in tags:
                boundaries.setdefault(tag, []).append(facets)
    subdomains = {name: np.flatnonzero(part == name) for name in names}
    return mesh.with_subdomains(subdomains).with_boundaries({k: np.concatenate(v) for k, v in boundaries.items()})


def straight(start: np.ndarray, end: np.ndarray, shares: np.ndarray) -> np.ndarray:
    """Points on the lines from `start` (2, m) to `end` (2, m) [m] at `shares` (n,) [-], shape (2, m, n)."""
    return start[:, :, None] + (end - start)[:, :, None] * shares


def bilinear(corners: np.ndarray, columns: int, rows: int) -> np.ndarray:
    """A block with straight sides between `corners` (2, 4) [m] in turn, for `columns` x `rows` cells."""
    x, y = np.linspace(0.0, 1.0, 2 * columns + 1)[:, None], np.linspace(0.0, 1.0, 2 * rows + 1)
    weights = np.stack([(1 - x) * (1 - y), x * (1 - y), x * y, (1 - x) * y])
    return np.einsum("dk,kij->dij", corners, weights)


def graded(cells: int, ratio: float) -> np.ndarray:
    """Shares [-] from 0 to 1 of ends and middles of `cells` whose last is `ratio` times the first, shape (2 cells + 1,)."""
    sizes = np.geomspace(1.0, ratio, cells)
    ends = np.concatenate([[0.0], np.cumsum(sizes)]) / sizes.sum()
    shares = np.empty(2 * cells + 1)
    shares[::2] = ends
    shares[1::2] = 0.5 * (ends[1:] + ends[:-1])
    return shares


def _curved(flat: MeshQuad, cells: np.ndarray) -> MeshQuad2:
    """The mesh with straight edges bent to the cells' nodes (2, n_cells, 3, 3)."""
    dofs = Basis(flat, ElementQuad2(), intorder=1).element_dofs
    places = np.zeros((2, int(dofs.max()) + 1))
    # vertices, then the edges between one vertex and the next, then the middle
    for row, (i, j) in enumerate([(0, 0), (2, 0), (2, 2), (0, 2), (1, 0), (2, 1), (1, 2), (0, 1), (1, 1)]):
        places[:, dofs[row]] = cells[:, :, i, j]
    return MeshQuad2(places, flat.t)


def _keys(place: np.ndarray, points: np.ndarray, size: float) -> np.ndarray:
    return np.column_stack([place, np.floor(points.T / (MERGED * size) + OFFSET).astype(np.int64)])


def _numbered(place: np.ndarray, points: np.ndarray, size: float) -> tuple[np.ndarray, np.ndarray]:
    keys, index = np.unique(_keys(place, points, size), axis=0, return_inverse=True)
    return keys, np.asarray(index).ravel()


def _facets(mesh: MeshQuad, vertices: np.ndarray) -> np.ndarray:
    """Facets by their end vertices (n, 2)."""
    place = {tuple(pair): number for number, pair in enumerate(np.sort(mesh.facets, axis=0).T)}
    return np.array([place[tuple(pair)] for pair in np.sort(vertices, axis=1)])
