"""What the slowest of the melt goes through against what its card allows: in the flow, and in a pause."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from meltzone.fem.field import Field
from meltzone.fem.residence import LAYER, time_between


@dataclass(frozen=True)
class Degradation:
    """Of the outermost twentieth of the flow and of melt at rest.

    `hot_time` is the mean time of the former above the degradation temperature, within the melt zone [s]; `dose` the share of
    its induction time that it spends there [-]. `margin` is how far the hottest wall that melt touches is below the
    degradation temperature [K]; `pause` the induction time at that wall, to which melt at rest comes [s]. `dose` and `pause`
    are None where the card has no induction time.
    """

    hot_time: float
    margin: float
    dose: float | None
    pause: float | None


def degradation_of(field: Field) -> Degradation:
    """Degradation in `field`: times are added up by dt/t(T), t being the induction time, as for any isothermal damage."""
    polymer, axis = field.problem.materials.polymer, field.axis
    limit, outer = polymer.degradation_temperature, (1.0 - LAYER, 1.0)
    hottest = float(axis.wall[axis.wall_z <= field.problem.arrangement.block_top].max())
    hot_time = time_between(field, *outer, lambda kelvin: (kelvin > limit).astype(float))
    induction = polymer.induction(hottest)
    if induction is None:
        return Degradation(hot_time, limit - hottest, None, None)

    def spent(kelvin: np.ndarray) -> np.ndarray:
        lasts = polymer.induction(kelvin)
        assert lasts is not None, "asked above"
        return 1.0 / lasts

    return Degradation(hot_time, limit - hottest, time_between(field, *outer, spent), float(induction))
