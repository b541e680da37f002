"""Where the lines of the mesh lie: cell sizes that grow away from the bore wall and from the ends of the melt zone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from meltzone.geometry.arrangement import Arrangement
from meltzone.geometry.stack import Outline

LEVEL_ONE = 0.72  # share of the sizes below that gives about 10,000 quadratic unknowns at level 1

SizeLaw = Callable[[np.ndarray], np.ndarray]


def radial_size(arrangement: Arrangement) -> SizeLaw:
    """Radial cell size over the straight radius [m], relative to the level: finest at the bore wall."""
    bore = arrangement.entry_radius

    def size(r: np.ndarray) -> np.ndarray:
        distance = np.abs(r - bore)
        inside = np.minimum(0.022 + 0.16 * distance / bore, 0.11) * bore
        outside = np.minimum(0.25e-3 + 0.5 * distance, 1.9e-3)
        return np.where(r <= bore, inside, outside)

    return size


def axial_size(arrangement: Arrangement) -> SizeLaw:
    """Axial cell size over the height [m], relative to the level: finest at the orifice, at steps, and where the bore fills."""
    land, top = arrangement.nozzle.land, arrangement.block_top
    finest = 0.25 * arrangement.nozzle.land
    bends = [z for low, high, _ in arrangement.wall.slopes() if low > land for z in (low, high)]

    def size(z: np.ndarray) -> np.ndarray:
        orifice = finest + 0.22 * np.abs(z - land)
        fine = [0.13e-3 + 0.22 * np.abs(z - level) for level in (top, *bends)]
        return np.minimum(np.minimum(orifice, np.min(fine, axis=0)), 0.55e-3)

    return size


def subdivided(breaks: np.ndarray, size: SizeLaw, scale: float) -> tuple[np.ndarray, np.ndarray]:
    """Split every interval of `breaks` so that cell sizes follow `size` times `scale`.

    Returns the interval of each cell, shape (n_cells,), and the share of the interval at which each cell ends
    [-], shape (n_cells,). The points of an interval share out the integral of 1/size evenly.
    """
    owner, share = [], []
    for k, (a, b) in enumerate(pairwise(breaks)):
        x = np.linspace(a, b, 129)
        density = 1.0 / size((x[1:] + x[:-1]) / 2.0)
        amount = np.concatenate([[0.0], np.cumsum(density)]) * (b - a) / 128.0
        count = max(1, int(np.ceil(amount[-1] / scale - 1e-9)))
        ends = np.interp(np.linspace(0.0, amount[-1], count + 1), amount, (x - a) / (b - a))[1:]
        owner += [k] * count
        share += [*ends[:-1], 1.0]
    return np.array(owner), np.array(share)


@dataclass(frozen=True, eq=False)
class Subdivision:
    """How each rectangle of an outline is divided: the outline's `row` of each fine row and `column` of each fine column.

    `axial` and `radial` are the shares of their interval at which each fine row and column ends [-].
    """

    row: np.ndarray
    axial: np.ndarray
    column: np.ndarray
    radial: np.ndarray


def subdivide(plan: Outline, arrangement: Arrangement, level: float) -> Subdivision:
    """Divide `plan` for mesh `level`; each level up doubles the number of cells."""
    scale = LEVEL_ONE * 2.0 ** (-(level - 1.0) / 2.0)
    column, radial = subdivided(plan.straight, radial_size(arrangement), scale)
    row, axial = subdivided(plan.levels, axial_size(arrangement), scale)
    return Subdivision(row, axial, column, radial)


def fine_points(plan: Outline, parts: Subdivision) -> tuple[np.ndarray, np.ndarray]:
    """All points of the structured grid: r and z [m], both of shape (n_z + 1, n_r + 1)."""
    # blend between the lines at every coarse level, then between the levels: straight cones stay exact
    lines, column, row = plan.radii, parts.column, parts.row
    ends = lines[:, column] + parts.radial * (lines[:, column + 1] - lines[:, column])
    at_levels = np.column_stack([lines[:, :1], ends])
    upper = at_levels[row] + parts.axial[:, None] * (at_levels[row + 1] - at_levels[row])
    r = np.vstack([at_levels[:1], upper])
    heights = plan.levels[row] + parts.axial * (plan.levels[row + 1] - plan.levels[row])
    z = np.repeat(np.concatenate([plan.levels[:1], heights])[:, None], r.shape[1], axis=1)
    return r, z
