"""How much polymer is hot, and for how long: hot volumes, and residence times of the whole, the core and the slow layer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from meltzone.fem.divided import open_shares, streams_at
from meltzone.fem.field import Field
from meltzone.fem.hot_volume import volume_above
from meltzone.fem.motion import filled_sections

Weigh = Callable[[np.ndarray], np.ndarray]

STILL = 1e-9  # of the flow between two neighbours: nothing moves there
LAYER = 0.05  # core and wall layer are the innermost and the outermost twentieth of the flow


@dataclass(frozen=True)
class Residence:
    """Hot volumes [m3] and residence times [s] of a field.

    `hot` and `soft` are the volumes of polymer above its flow and its softening temperature. `hot_time` is the mean time
    above the flow temperature: the hot polymer's mass over the mass flow, whatever the velocity. `zone_time` is the mean
    time in the melt zone, from its upper to its lower plane; `core_time` and `wall_time` are those of the innermost and
    the outermost twentieth of the flow, by the stream function.
    """

    hot: float
    soft: float
    hot_time: float
    zone_time: float
    core_time: float
    wall_time: float


def residence_of(field: Field) -> Residence:
    """Hot volumes and residence times of `field`; a time is the mass of a stream tube over the mass flow in it."""
    polymer, space = field.problem.materials.polymer, field.system.space
    shares = open_shares(space, field.problem.arrangement)
    hot, soft = (
        volume_above(space, field.temperature, threshold, shares=shares).volume
        for threshold in (polymer.flow_temperature, polymer.softening_temperature)
    )
    mass_flow = field.system.density * field.flow
    times = [time_between(field, *shares) for shares in ((0.0, 1.0), (0.0, LAYER), (1.0 - LAYER, 1.0))]
    return Residence(hot, soft, hot * _hot_density(field) / mass_flow, *times)


def _hot_density(field: Field) -> float:
    """Mean density of the polymer above the flow temperature, by the points of the mesh [kg/m3]; 0 where none is."""
    polymer, cells = field.problem.materials.polymer, field.system.space.cells
    chosen = field.system.polymer_cells
    here = cells.at_points(field.temperature, chosen)
    filled = open_shares(field.system.space, field.problem.arrangement)[chosen]
    weight = filled[:, None] * cells.volume[chosen] * (here > polymer.flow_temperature)
    total = float(weight.sum())
    return float(np.sum(weight * polymer.density(here))) / total if total > 0.0 else 0.0


def time_between(field: Field, inner: float, outer: float, weigh: Weigh = np.ones_like) -> float:
    """Mean time in the melt zone of the flow between two shares of it, counted from the axis, times what `weigh` gives [s].

    `weigh` takes temperatures [K], of any shape: how much a time at each of them counts, such as all of it.
    dt = rho A dz / (share of the mass flow), with A the section between the two stream lines: within a section the
    square of the radius is interpolated over the stream function, which is exact for a plug.
    """
    polymer, points = field.problem.materials.polymer, field.system.space.points
    sections = filled_sections(field.system.space)
    heights = points[1][sections[:, 0]]
    edges = np.linspace(inner, outer, 9)
    middles = (edges[1:] + edges[:-1]) / 2.0
    mass = np.empty(len(sections))  # per length [kg/m]
    for k, row in enumerate(sections):
        stream = field.system.stream[row]
        moving = row[np.concatenate([[True], np.diff(stream) > STILL])]  # without what rests beside the solid filament
        stream = field.system.stream[moving]
        rings = np.pi * np.diff(np.interp(edges, stream, points[0][moving] ** 2))
        warmth = np.interp(middles, stream, field.temperature[moving])
        mass[k] = float(np.sum(rings * polymer.density(warmth) * weigh(warmth)))
    lower, upper = field.melt_zone
    levels = np.unique(np.concatenate([[lower], heights[(heights > lower) & (heights < upper)], [upper]]))
    inside = np.interp(levels, heights, mass)
    filled = streams_at(field.problem.arrangement, (levels[1:] + levels[:-1]) / 2.0).open_share
    flow = field.system.density * field.flow * (outer - inner)
    return float(np.sum(filled * (inside[1:] + inside[:-1]) / 2.0 * np.diff(levels))) / flow
