"""Sections across the flow: holes in a ring, disc, annulus round a torpedo, rectangle; one symmetric piece each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from skfem import MeshQuad2

from meltzone.geometry.errors import GeometryError
from meltzone.geometry.patches import Patch, bilinear, graded, mesh_of, straight

CORE, CORE_CORNER = 0.45, 0.58  # of the radius: half side and corner of the block in the middle of a round
TO_WALL = 0.35  # the cell at a heated wall over the first cell of its row
Tags = dict[str, tuple[str, ...]]
WALL, WETTED = "wall", "wetted"
POLYMER_SIDE, WEB_SIDE = "contact polymer", "contact web"


@dataclass(frozen=True, eq=False)
class CrossSection:
    """One symmetric piece of a section: `mesh` [m] of curved quadrilaterals, of which `copies` make the whole.

    Subdomains "polymer" and, with metal in the section, "web"; boundary "wall" is the outer, heated one, "wetted" all that
    polymer touches; "contact polymer" and "contact web" are the two sides of the joint between polymer and metal.
    """

    mesh: MeshQuad2
    copies: int


def ring_of_holes(count: int, hole: float, ring: float, outer: float, cells: int = 16) -> CrossSection:
    """Half a hole in a half wedge of `count` holes of radius `hole` on the radius `ring`, in a disc of radius `outer` [m].

    `cells` lie along half the hole's wall, a multiple of four. Metal and polymer have nodes of their own on the hole's wall.
    Raises GeometryError where holes meet, reach the axis or leave the disc.
    """
    _check_ring(count, hole, ring, outer)
    half = np.pi / count
    corner = np.arctan2(outer * np.sin(half), outer * np.cos(half) - ring)
    before = int(np.clip(round(cells * corner / np.pi), 1, cells - 1))
    angle = np.concatenate(
        [np.linspace(0.0, corner, 2 * before + 1), np.linspace(corner, np.pi, 2 * (cells - before) + 1)[1:]]
    )
    direction = np.stack([np.cos(angle), np.sin(angle)])
    centre = np.array([[ring], [0.0]])
    to_disc = -ring * direction[0] + np.sqrt(outer**2 - (ring * direction[1]) ** 2)
    across = np.sin(angle - half)
    to_ray = np.where(angle > corner, ring * np.sin(half) / np.where(across > 0.0, across, 1.0), np.inf)
    reach = np.where(np.arange(angle.size) <= 2 * before, to_disc, to_ray)
    shares = graded(max(2, cells // 2), 1.0 / TO_WALL)
    points = straight(centre + hole * direction, centre + reach * direction, shares)
    columns = 2 * before
    web = [
        Patch("web", points[:, : columns + 1], {"inner": (WEB_SIDE,), "outer": (WALL,)}),
        Patch("web", points[:, columns:], {"inner": (WEB_SIDE,)}),
    ]
    half_hole = _half_disc("polymer", centre, hole, angle, {"outer": (POLYMER_SIDE, WETTED)})
    return CrossSection(mesh_of([*half_hole, *web]), 2 * count)


def disc(radius: float, pieces: int = 4, cells: int = 16) -> CrossSection:
    """A sector, one of `pieces` (at least 4), of a round passage of `radius` [m]; `cells`, even, along its arc."""
    patches = sector("polymer", radius, 2.0 * np.pi / pieces, cells, TO_WALL, {"outer": (WALL, WETTED)})
    return CrossSection(mesh_of(patches), pieces)


def _check_ring(count: int, hole: float, ring: float, outer: float) -> None:
    if not 2 <= count <= 12:
        raise GeometryError("holes", count, "2 to 12", "One passage is the plain bore.")
    if not 0.0 < hole < ring * np.sin(np.pi / count):
        limit = ring * np.sin(np.pi / count)
        raise GeometryError("hole radius", hole, "more than 0, less than {limit:g}", "Else holes meet.", limit=limit)
    if not ring + hole < outer:
        raise GeometryError("outer radius", outer, "more than {reach:g}", "Holes end inside it.", reach=ring + hole)


def _half_disc(part: str, centre: np.ndarray, radius: float, angle: np.ndarray, tags: Tags) -> list[Patch]:
    """Ring and middle block of the upper half of a disc, ends and middles of the ring's cells at `angle` (2 n + 1,)."""
    n = (angle.size - 1) // 2
    if n % 4:
        raise ValueError(f"{n} cells along half a hole: a multiple of four is needed")
    turns = angle[[0, n // 2, 3 * n // 2, 2 * n]]
    lengths = radius * np.array([CORE, CORE_CORNER, CORE_CORNER, CORE])
    corners = centre + lengths * np.stack([np.cos(turns), np.sin(turns)])
    corners[1, [0, 3]] = 0.0
    at = np.arange(angle.size)
    inside = np.stack([np.interp(at, [0, n // 2, 3 * n // 2, 2 * n], row) for row in corners])
    circle = centre + radius * np.stack([np.cos(angle), np.sin(angle)])
    ring = Patch(part, straight(inside, circle, graded(max(2, n // 2), TO_WALL)), tags)
    return [ring, Patch(part, bilinear(corners[:, [3, 0, 1, 2]], n // 2, n // 4))]


def sector(part: str, radius: float, angle: float, cells: int, ratio: float, tags: Tags) -> list[Patch]:
    """Ring and middle block of the sector of a disc from 0 to `angle` [rad], at most a quarter."""
    if cells % 2 or angle > 0.5 * np.pi + 1e-12:
        raise ValueError("a sector takes an even number of cells and at most a quarter turn")
    turn = np.linspace(0.0, angle, 2 * cells + 1)
    direction = np.stack([np.cos(turn), np.sin(turn)])
    rise = CORE / np.cos(angle / 2.0) * (CORE_CORNER / CORE * np.cos(np.pi / 4.0)) ** (angle / (np.pi / 2.0))
    corners = radius * np.array([CORE, rise, CORE]) * direction[:, [0, cells, 2 * cells]]
    at = np.arange(turn.size)
    inside = np.stack([np.interp(at, [0, cells, 2 * cells], row) for row in corners])
    ring = Patch(part, straight(inside, radius * direction, graded(cells, ratio)), tags)
    middle = np.column_stack([np.zeros(2), corners])
    return [ring, Patch(part, bilinear(middle, cells // 2, cells // 2))]
