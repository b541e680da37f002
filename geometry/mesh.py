"""Outline to mesh: graded quadrilaterals, nodes doubled along contacts, every part and face tagged."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from skfem import MeshQuad

from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.faces import ContactFaces, ExposedFace, classify, contact_name, soldered
from meltzone.geometry.grading import Subdivision, fine_points, subdivide
from meltzone.geometry.slit import SHOULDER, slit_of
from meltzone.geometry.stack import VOID, Outline, outline

HEATERS = ("heater", "second heater")  # subdomains that lie within a part


@dataclass(frozen=True, eq=False)
class SectionMesh:
    """The meshed section of an arrangement.

    `mesh` is a MeshQuad in (r, z) [m] with a subdomain for every part and each of the `HEATERS`, and a boundary for every
    face; `exposed` are the faces to the air, `contacts` the interfaces with doubled nodes. Boundaries "inlet", "outlet",
    "melt zone end" and "cold joint" hold the filament's entry, the orifice, the passage at the capillary's entry, and the
    surface held by the heat sink. `plan` is the outline, `subdivision` how it was divided, `grid_point` the point of the
    structured grid at which each node lies; they are None for a mesh that was not built from an outline. `facing` are
    faces to the air that look at one another across a slit.
    """

    arrangement: Arrangement
    mesh: MeshQuad
    exposed: tuple[ExposedFace, ...]
    contacts: tuple[ContactFaces, ...]
    plan: Outline | None = None
    subdivision: Subdivision | None = None
    grid_point: np.ndarray | None = None
    facing: tuple[ContactFaces, ...] = ()

    @property
    def parts(self) -> tuple[str, ...]:
        """Names of the parts present."""
        return tuple(name for name in self.mesh.subdomains if name not in HEATERS)


def build_section(arrangement: Arrangement, level: float = 1.0, subdivision: Subdivision | None = None) -> SectionMesh:
    """Mesh `arrangement`; level 1 gives about 10,000 quadratic unknowns, each level up twice as many.

    A `subdivision` made for an outline with the same rows and columns takes the place of the level. Raises ValueError where it
    does not fit.
    """
    plan = outline(arrangement)
    subdivision = subdivide(plan, arrangement, level) if subdivision is None else subdivision
    if (int(subdivision.row[-1]), int(subdivision.column[-1])) != (plan.levels.size - 2, plan.straight.size - 2):
        raise ValueError("the subdivision belongs to an outline with other rows and columns")
    r, z = fine_points(plan, subdivision)
    paint = plan.paint[np.ix_(subdivision.row, subdivision.column)]
    corner_ids = _corner_nodes(paint, soldered(arrangement))
    solid = paint != VOID
    keys = corner_ids[solid]
    used, inverse = np.unique(keys, return_inverse=True)
    vertex = used // 4
    points = np.vstack([r.ravel()[vertex], z.ravel()[vertex]])
    cells = inverse.reshape(keys.shape).T
    mesh = MeshQuad(np.ascontiguousarray(points), np.ascontiguousarray(cells))
    nodes = np.full(corner_ids.shape, -1)
    nodes[solid] = cells.T
    mesh, exposed, contacts = _tagged(arrangement, plan, mesh, paint, nodes, r, z)
    mesh = mesh.with_subdomains(_subdomains(plan, subdivision, paint, solid))
    return SectionMesh(arrangement, mesh, exposed, contacts, plan, subdivision, vertex, _facing(arrangement, mesh))


def _facing(arrangement: Arrangement, mesh: MeshQuad) -> tuple[ContactFaces, ...]:
    """The facets on both sides of the slit above the hexagon, by their radius; none where there is no slit."""
    slit = slit_of(arrangement)
    if slit is None:
        return ()
    sides = []
    for name in (SHOULDER, slit.above):
        facets = mesh.boundaries[name]
        middle = mesh.p[0, mesh.facets[:, facets]].mean(axis=0)
        order = np.argsort(middle)
        sides.append(facets[order[middle[order] < slit.radius]])
    return (ContactFaces("slit", "nozzle", slit.above.removesuffix(" bottom"), *sides),)


@lru_cache(maxsize=64)
def cells_of(arrangement: Arrangement, level: float) -> int:
    """How many cells `build_section` would make, told without making them; quadratic unknowns are about four times as many."""
    plan = outline(arrangement)
    parts = subdivide(plan, arrangement, level)
    rows, columns = (np.bincount(owner) for owner in (parts.row, parts.column))
    return int(rows @ (plan.paint != VOID) @ columns)


def moved_nodes(section: SectionMesh, arrangement: Arrangement) -> np.ndarray | None:
    """Where the nodes of `section` go when its arrangement changes to `arrangement`, divided as before: (2, n) [m].

    None where the two outlines do not have the same rectangles, so that no node has a counterpart.
    """
    if section.plan is None or section.subdivision is None or section.grid_point is None:
        return None
    plan, before = outline(arrangement), section.plan.paint
    if plan.paint.shape != before.shape or np.any(plan.paint != before):
        return None
    r, z = fine_points(plan, section.subdivision)
    return np.vstack([r.ravel()[section.grid_point], z.ravel()[section.grid_point]])


def _subdomains(plan: Outline, subdivision: Subdivision, paint: np.ndarray, solid: np.ndarray) -> dict[str, np.ndarray]:
    names = paint[solid]
    tags = {str(name): np.flatnonzero(names == name) for name in dict.fromkeys(names)}
    for name, heated in zip(HEATERS, plan.heated, strict=False):
        tags[name] = np.flatnonzero(heated[np.ix_(subdivision.row, subdivision.column)][solid])
    return tags


def _corner_nodes(paint: np.ndarray, bonded: frozenset[str]) -> np.ndarray:
    """Node key of each corner of each cell, shape (n_z, n_r, 4), corners anticlockwise from (low r, low z).

    At a grid point up to four cells meet. Two neighbours share the node where the edge between them is bonded, so a contact
    doubles its nodes unless it is one of those `bonded`, and a contact that ends inside the material ends at a single one. The
    key is 4 times the grid point plus a label, which keeps the same order of nodes on both sides of a contact.
    """
    n_z, n_r = paint.shape
    names, codes = np.unique(paint.ravel().astype(str), return_inverse=True)
    together = np.array([[_one_piece(a, b, bonded) for b in names] for a in names])
    void = int(np.flatnonzero(names == VOID)[0]) if VOID in names else len(names)
    together = np.pad(together, (0, 1))
    around = np.full((n_z + 2, n_r + 2), void)
    around[1:-1, 1:-1] = codes.reshape(paint.shape)
    # the four cells around every grid point: 0 south-west, 1 south-east, 2 north-east, 3 north-west
    cell = [around[:-1, :-1], around[:-1, 1:], around[1:, 1:], around[1:, :-1]]
    label = np.tile(np.arange(4)[:, None, None], (1, n_z + 1, n_r + 1))
    for _ in range(3):
        for a, b in ((0, 1), (1, 2), (2, 3), (3, 0)):
            one = together[cell[a], cell[b]]
            low = np.minimum(label[a], label[b])
            label[a] = np.where(one, low, label[a])
            label[b] = np.where(one, low, label[b])
    point = np.arange((n_z + 1) * (n_r + 1)).reshape(n_z + 1, n_r + 1)
    key = 4 * point + label
    # a cell is the north-east one of its own south-west corner, and so on round
    return np.stack([key[2][:-1, :-1], key[3][:-1, 1:], key[0][1:, 1:], key[1][1:, :-1]], axis=-1)


def _one_piece(first: str, second: str, bonded: frozenset[str]) -> bool:
    """Whether two neighbouring cells share their nodes."""
    if VOID in (first, second):
        return False
    return first == second or contact_name(first, second, False, bonded) is None


def _facets_of(mesh: MeshQuad, ends: np.ndarray) -> np.ndarray:
    """Facet number of each pair of nodes in `ends`, shape (n, 2)."""
    n_nodes = mesh.p.shape[1]
    known = mesh.facets[0].astype(np.int64) * n_nodes + mesh.facets[1]
    order = np.argsort(known)
    low, high = ends.min(axis=1).astype(np.int64), ends.max(axis=1)
    return order[np.searchsorted(known, low * n_nodes + high, sorter=order)]


def _tagged(
    arrangement: Arrangement,
    plan: Outline,
    mesh: MeshQuad,
    paint: np.ndarray,
    nodes: np.ndarray,
    r: np.ndarray,
    z: np.ndarray,
) -> tuple[MeshQuad, tuple[ExposedFace, ...], tuple[ContactFaces, ...]]:
    """Sort every edge of the grid between two different cells into faces and contacts."""
    n_z, n_r = paint.shape
    around = np.full((n_z + 2, n_r + 2), VOID, dtype=object)
    around[1:-1, 1:-1] = paint
    padded = np.full((n_z + 2, n_r + 2, 4), -1)
    padded[1:-1, 1:-1] = nodes
    groups: dict[tuple, list[np.ndarray]] = {}

    def collect(horizontal: bool) -> None:
        if horizontal:  # edges between a cell (first) and the one above it (second)
            first, second = around[:-1, 1:-1], around[1:, 1:-1]
            ends_1, ends_2 = padded[:-1, 1:-1][..., [3, 2]], padded[1:, 1:-1][..., [0, 1]]
            mid_r, mid_z = (r[:, 1:] + r[:, :-1]) / 2.0, (z[:, 1:] + z[:, :-1]) / 2.0
        else:  # edges between a cell (first) and its outer neighbour (second)
            first, second = around[1:-1, :-1], around[1:-1, 1:]
            ends_1, ends_2 = padded[1:-1, :-1][..., [1, 2]], padded[1:-1, 1:][..., [0, 3]]
            mid_r, mid_z = (r[1:] + r[:-1]) / 2.0, (z[1:] + z[:-1]) / 2.0
        for j, i in np.argwhere(first != second):
            sides = (first[j, i], second[j, i])
            tag = classify(arrangement, sides, horizontal, mid_r[j, i], mid_z[j, i])
            if tag is None:
                continue
            pair = [ends_1[j, i], ends_2[j, i]]
            if tag[0] == "contact" and sides[0] > sides[1]:  # one order of the two parts, whichever lies inside
                tag, pair = (*tag[:2], sides[1], sides[0]), pair[::-1]
            groups.setdefault(tag, []).append(np.concatenate(pair))

    collect(horizontal=True)
    collect(horizontal=False)
    _collect_melt_end(arrangement, paint, nodes, z, groups)
    return _with_faces(arrangement, mesh, groups)


def _collect_melt_end(
    arrangement: Arrangement, paint: np.ndarray, nodes: np.ndarray, z: np.ndarray, groups: dict
) -> None:
    row = int(np.argmin(np.abs(z[:, 0] - arrangement.nozzle.land)))
    for i in np.flatnonzero(paint[row] == "polymer"):
        ends = nodes[row, i, [0, 1]]
        groups.setdefault(("plane", "melt zone end"), []).append(np.concatenate([ends, ends]))


def _with_faces(
    arrangement: Arrangement, mesh: MeshQuad, groups: dict[tuple, list[np.ndarray]]
) -> tuple[MeshQuad, tuple[ExposedFace, ...], tuple[ContactFaces, ...]]:
    boundaries: dict[str, np.ndarray] = {}
    exposed, contacts = [], []
    for tag, rows in groups.items():
        ends = np.array(rows)
        if tag[0] == "contact":
            _, name, first, second = tag
            side_1, side_2 = _facets_of(mesh, ends[:, :2]), _facets_of(mesh, ends[:, 2:])
            contacts.append(ContactFaces(name, first, second, side_1, side_2))
            boundaries[f"{name}: {first} to {second}"] = side_1
            boundaries[f"{name}: {second} to {first}"] = side_2
            continue
        kept = np.where(ends[:, :1] >= 0, ends[:, :2], ends[:, 2:])
        boundaries[tag[1]] = _facets_of(mesh, kept)
        if tag[0] == "exposed":
            exposed.append(ExposedFace.of(arrangement, tag[1]))
    return mesh.with_boundaries(boundaries), tuple(exposed), tuple(contacts)
