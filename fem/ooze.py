"""What can leave the nozzle after a stop: melt that expands as it warms to the wall, and melt that its own weight drives."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from meltzone.fem.divided import open_shares, streams_at
from meltzone.fem.field import Field
from meltzone.fem.heated_bar import first_decay

GRAVITY = 9.80665  # standard acceleration of free fall [m/s2]
FIRST, MINUTE = 5.0, 60.0  # the first seconds after a stop, and a minute [s]
LEVELS = 400  # steps between two corners of the passage, over which its resistance is summed


@dataclass(frozen=True)
class Ooze:
    """The most that can leave at rest, once the feeder stops.

    `expansion` is all that the melt zone gains when it has warmed to its wall [m3]; of it `early` comes within `FIRST` and
    `within_minute` within `MINUTE` [m3]. `weight_flow` is the flow that the weight of the molten column drives [m3/s], None
    where the card has no viscosity. `retraction` is the length of filament whose volume is that of land and inner cone [m].
    """

    expansion: float
    early: float
    within_minute: float
    weight_flow: float | None
    retraction: float

    @property
    def first_seconds(self) -> float:
        """All that can leave within the first seconds [m3]."""
        return self.early + FIRST * (self.weight_flow or 0.0)

    @property
    def per_minute(self) -> float:
        """All that can leave within a minute [m3]."""
        return self.within_minute + MINUTE * (self.weight_flow or 0.0)


def ooze_of(field: Field) -> Ooze:
    """What can leave after a stop out of `field`, its bore wall staying as warm as it is.

    Upper bounds: all that expands goes down, none of it up beside the filament, and no surface tension holds back a drop.
    """
    a = field.problem.arrangement
    gained, left_early, left_minute = _expansion(field)
    land_and_cone = a.wall.volume(0.0, a.nozzle.cone_top)
    return Ooze(gained, left_early, left_minute, weight_flow(field), land_and_cone / a.filament.area)


def _expansion(field: Field) -> tuple[float, float, float]:
    """Volume gained on warming to the wall: in all, within the first seconds, within a minute [m3].

    A volume dV of density rho becomes rho(T)/rho(T_wall) dV. Level by level the mean goes to the wall's as the slowest term of
    a bar held at its surface, exp(-5.78 alpha t/R^2): the others have died away in melt that has passed the melt zone.
    """
    polymer, space, a = field.problem.materials.polymer, field.system.space, field.problem.arrangement
    chosen, axis = field.system.polymer_cells, field.axis
    heights = space.cells.at_points(space.points[1], chosen)
    inside = heights < field.melt_zone[1]
    here = space.cells.at_points(field.temperature, chosen)
    wall = np.interp(heights, axis.wall_z, axis.wall)
    volume = open_shares(space, a)[chosen][:, None] * space.cells.volume[chosen] * inside
    gain = volume * (polymer.density(here) / polymer.density(wall) - 1.0)
    diffusivity = polymer.conductivity(wall) / (polymer.density(wall) * polymer.heat_capacity(wall))
    radius = a.wall.radius(heights) * streams_at(a, heights.ravel()).narrowing.reshape(heights.shape)
    spans = (np.zeros_like(gain), *(first_decay(diffusivity * time / radius**2) for time in (FIRST, MINUTE)))
    whole, early, minute = (max(float(np.sum(gain * (1.0 - left))), 0.0) for left in spans)
    return whole, early, minute


def weight_flow(field: Field) -> float | None:
    """Flow that the weight of the column in the melt zone drives through it [m3/s]; None without a viscosity.

    Hagen-Poiseuille, dp/dz = 8 eta0 Q / (pi R^4), summed along the wall from the orifice up, at the viscosity at rest of the
    wall's temperature, to which the melt comes: the stress at the land's wall is a hundredth of what would thin it.
    """
    law, density = field.problem.materials.polymer.viscosity, field.problem.materials.polymer.density
    if law is None:
        return None
    a, axis, top = field.problem.arrangement, field.axis, field.melt_zone[1]
    corners = np.unique([0.0, *(level for level in (*a.wall.levels, *a.divided_levels) if 0.0 < level < top), top])
    levels = np.unique(np.concatenate([np.linspace(low, high, LEVELS) for low, high in pairwise(corners)]))
    z, dz = (levels[1:] + levels[:-1]) / 2.0, np.diff(levels)
    wall, streams = np.interp(z, axis.wall_z, axis.wall), streams_at(a, z)
    radius = a.wall.radius(z) * streams.narrowing
    resistance = float(np.sum(8.0 * law.zero_shear(wall) / (np.pi * streams.count * radius**4) * dz))
    return GRAVITY * float(np.sum(density(wall) * dz)) / resistance
