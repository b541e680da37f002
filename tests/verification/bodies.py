"""Small bodies of revolution for the checks: tensor grids, nodes doubled along contacts, parts and faces tagged."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence

import numpy as np
from skfem import MeshQuad

from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.faces import ContactFaces
from meltzone.geometry.mesh import SectionMesh

Where = Callable[[np.ndarray, np.ndarray], np.ndarray]  # (r, z) of facet midpoints -> chosen


def body(
    r: np.ndarray,
    z: np.ndarray,
    part_of: Callable[[np.ndarray, np.ndarray], np.ndarray],
    faces: Mapping[str, tuple[str, Where]],
    contacts: Sequence[tuple[str, str, Where]] = (),
    bend: Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]] | None = None,
) -> SectionMesh:
    """Mesh of the grid lines `r` and `z` [m]; `part_of` names the part at each cell's centre.

    `faces` maps a name to a part and a predicate on midpoints; `contacts` lists pairs of parts whose common edges
    have doubled nodes. Predicates see the straight grid; `bend` then moves its points. All parts that touch must share a
    contact, as parts never share nodes here.
    """
    mesh, names = _separate_parts(r, z, part_of)
    middle = mesh.p[:, mesh.facets].mean(axis=1)
    outer = np.flatnonzero(mesh.f2t[1] < 0)

    def pick(part: str, where: Where) -> np.ndarray:
        chosen = outer[(names[mesh.f2t[0, outer]] == part) & where(middle[0, outer], middle[1, outer])]
        assert chosen.size, f"no facet of {part} was chosen"
        return chosen[np.lexsort((middle[0, chosen], middle[1, chosen]))]

    pairs = tuple(ContactFaces("joint", a, b, pick(a, where), pick(b, where)) for a, b, where in contacts)
    tags = {name: pick(part, where) for name, (part, where) in faces.items()}
    if bend:
        mesh = MeshQuad(np.vstack(bend(*mesh.p)), mesh.t)
    parts = {str(name): np.flatnonzero(names == name) for name in dict.fromkeys(names)}
    parts.setdefault("polymer", np.array([], dtype=np.int64))
    return SectionMesh(Arrangement(), mesh.with_boundaries(tags).with_subdomains(parts), (), pairs)


def _separate_parts(
    r: np.ndarray, z: np.ndarray, part_of: Callable[[np.ndarray, np.ndarray], np.ndarray]
) -> tuple[MeshQuad, np.ndarray]:
    """Grid with nodes of its own for every part, in the same order on both sides of a contact; and each cell's part."""
    columns, rows = r.size - 1, z.size - 1
    i, j = np.meshgrid(np.arange(columns), np.arange(rows))
    corner = (j * r.size + i).ravel()
    cells = np.vstack([corner, corner + 1, corner + 1 + r.size, corner + r.size])
    points = np.vstack([np.tile(r, z.size), np.repeat(z, r.size)])
    centre = points[:, cells].mean(axis=1)
    names = np.broadcast_to(part_of(centre[0], centre[1]), cells.shape[1:])
    order, code = np.unique(names, return_inverse=True)
    used, inverse = np.unique(cells * order.size + code, return_inverse=True)
    mesh = MeshQuad(np.ascontiguousarray(points[:, used // order.size]), inverse.reshape(cells.shape))
    return mesh, np.asarray(names)


def everywhere(name: str) -> Callable[[np.ndarray, np.ndarray], np.ndarray]:
    """One part, all of the grid."""
    return lambda r, z: np.full(r.shape, name)


def at_r(value: float) -> Where:
    """Facets on the cylinder of radius `value` [m]."""
    return lambda r, z: np.isclose(r, value, rtol=1e-12, atol=1e-14)


def at_z(value: float) -> Where:
    """Facets on the plane of height `value` [m]."""
    return lambda r, z: np.isclose(z, value, rtol=1e-12, atol=1e-14)


def growing(first: float, ratio: float, length: float, largest: float = np.inf) -> np.ndarray:
    """Points from 0 to `length` whose steps grow from `first` by `ratio`, up to `largest`; the sum is made to fit."""
    steps = [first]
    while sum(steps) < length:
        steps.append(min(steps[-1] * ratio, largest))
    points = np.concatenate([[0.0], np.cumsum(steps)])
    return points * (length / points[-1])


def between(breaks: Sequence[float], each: int) -> np.ndarray:
    """Points that split every interval of `breaks` into `each` equal steps."""
    pieces = [np.linspace(a, b, each + 1)[:-1] for a, b in itertools.pairwise(breaks)]
    return np.concatenate([*pieces, [breaks[-1]]])
