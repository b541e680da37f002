"""The wall of the polymer's passage: straight between corners, from the orifice up, with a shoulder where the bore steps."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from meltzone.geometry.errors import AngleSize, GeometryError

SLANT = AngleSize(math.pi / 4.0)  # of the shoulder of a step, against the axis [rad]
LEAST_STEP = 1e-7  # of the radius: a smaller one could not be told from none on the mesh [m]
EVEN = 1e-9  # radii closer than a nanometre are one: round-off of units [m]

Corner = tuple[float, float]


class Bore(NamedTuple):
    """A bore that begins at `level` [m] with `radius` [m], upwards; `key` is where a case gives it."""

    level: float
    radius: float
    key: str


@dataclass(frozen=True)
class PassageWall:
    """A wall through `corners`, (level, radius) each [m], levels rising; beyond the ends it goes on straight up."""

    corners: tuple[Corner, ...]

    @classmethod
    def through(cls, corners: Iterable[Corner]) -> PassageWall:
        """The wall through `corners` (level, radius) [m]; of two at one level the first stands, on a cylinder only its ends."""
        kept: list[Corner] = []
        for corner in corners:
            if kept and corner[0] <= kept[-1][0]:
                continue
            if len(kept) > 1 and max(abs(kept[-1][1] - kept[-2][1]), abs(corner[1] - kept[-1][1])) < EVEN:
                kept.pop()
            kept.append(corner)
        return cls(tuple(kept))

    @property
    def levels(self) -> np.ndarray:
        """Levels of the corners, (n,) [m]."""
        return np.array([level for level, _ in self.corners])

    def radius(self, z: ArrayLike) -> np.ndarray:
        """Radius of the wall at heights `z` [m], any shape, kept."""
        return np.asarray(np.interp(np.asarray(z), self.levels, [radius for _, radius in self.corners]))

    def slopes(self, below: float = math.inf) -> list[tuple[float, float, float]]:
        """Where the wall is no cylinder, only as far as it lies `below` a level [m]: lower and upper level [m], dR/dz [-]."""
        return [
            (z0, min(z1, below), (r1 - r0) / (z1 - z0))
            for (z0, r0), (z1, r1) in pairwise(self.corners)
            if abs(r1 - r0) > EVEN and z0 < below - EVEN
        ]

    def volume(self, low: float, high: float) -> float:
        """Volume of the passage between the levels `low` and `high` [m]: cylinders and frustums [m3]."""
        inside = self.levels[(self.levels > low) & (self.levels < high)]
        z = np.concatenate([[low], inside, [high]])
        r = self.radius(z)
        return float(np.pi / 3.0 * np.sum(np.diff(z) * (r[1:] ** 2 + r[1:] * r[:-1] + r[:-1] ** 2)))


def require_step(key: str, diameter: float, other: float) -> None:
    """Raises GeometryError for `key` where its `diameter` differs from the `other` [m], but by too little for a step."""
    if EVEN < abs(diameter - other) < 2.0 * LEAST_STEP:
        raise GeometryError(
            key,
            diameter,
            "exactly the bore that it meets, {other:.8g}, or a step of at least {least:micro g}",
            "Leave it out for a bore without a step; from there it cannot move alone.",
            other=other,
            least=2.0 * LEAST_STEP,
        )


def shoulder(level: float, below: float, above: float) -> list[Corner]:
    """Corners of a step of the bore at `level` [m] from the radius `below` it to that `above` it [m].

    A shoulder of 45 degrees within the wider part: in the corner that it cuts off the melt does not move.
    """
    step = above - below
    if step >= 0.0:
        return [(level, below), (level + step, above)]
    return [(level + step, below), (level, above)]
