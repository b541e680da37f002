"""Other sections across the flow than those that hot ends have, whose Nusselt numbers are known: annulus, rectangle."""

from __future__ import annotations

import numpy as np

from meltzone.geometry.cross_section import POLYMER_SIDE, TO_WALL, WALL, WEB_SIDE, WETTED, CrossSection, sector
from meltzone.geometry.errors import GeometryError
from meltzone.geometry.patches import Patch, graded, mesh_of, straight


def annulus(inner: float, outer: float, insert: bool, pieces: int = 8, cells: int = 8) -> CrossSection:
    """A sector of the gap between a torpedo of radius `inner` and the heated wall of radius `outer` [m].

    With `insert` the torpedo is metal on the mesh (subdomain "web"), else nothing crosses its surface.
    """
    if not 0.0 < inner < outer:
        raise GeometryError(
            "torpedo radius", inner, "more than 0, less than {outer:g}", "It lies inside the bore.", outer=outer
        )
    angle = np.linspace(0.0, 2.0 * np.pi / pieces, 2 * cells + 1)
    direction = np.stack([np.cos(angle), np.sin(angle)])
    points = straight(inner * direction, outer * direction, _both_ends(2 * cells))
    surface = (POLYMER_SIDE, WETTED) if insert else (WETTED,)
    patches = [Patch("polymer", points, {"outer": (WALL, WETTED), "inner": surface})]
    if insert:
        patches += sector("web", inner, angle[-1], cells, 1.0, {"outer": (WEB_SIDE,)})
    return CrossSection(mesh_of(patches), pieces)


def rectangle(width: float, height: float, cells: int = 12) -> CrossSection:
    """A quarter of a rectangular duct, `width` x `height` [m], heated all round; `cells` each way."""
    shares = graded(cells, TO_WALL)
    x, y = 0.5 * width * shares, 0.5 * height * shares
    points = np.stack(np.broadcast_arrays(x[:, None], y))
    patches = [Patch("polymer", points, {"last": (WALL, WETTED), "outer": (WALL, WETTED)})]
    return CrossSection(mesh_of(patches), 4)


def _both_ends(cells: int) -> np.ndarray:
    """Shares [-] of a gap's width, finer towards both walls."""
    half = graded(cells // 2, TO_WALL)
    return np.concatenate([0.5 * (1.0 - half[::-1]), 0.5 + 0.5 * half[1:]])
