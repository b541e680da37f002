"""The heater's controller from step to step: at a bound of its power, holding the sensor, or waiting for its next sample."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from meltzone.fem.in_time.timestep import Drive, Instant, TimeStep

SAMPLE = 0.1  # it looks at the sensor this often [s]
LONGEST_SAMPLE = 0.8  # and half as often every time that the power runs from bound to bound, down to this [s]
DRIFT = 0.002  # the sensor may run free by this much between two samples [K]
MET = 1e-3  # the target counts as met this closely [K]


@dataclass(frozen=True, eq=False)
class Control:
    """What the heater does next: `drive` is what was asked for, `bound` the power it is pinned to [W] or None.

    `power` is the last it gave [W].
    An ideal controller has no answer in times shorter than the heat takes from heater to sensor: the powers it asks for then
    have no bounds. So between samples, `sample` [s] apart, the power stays as it is, and the sensor is brought back over
    steps no shorter than that.
    """

    drive: Drive
    bound: float | None
    power: float
    sample: float = SAMPLE

    @classmethod
    def of(cls, drive: Drive, start: Instant) -> Control:
        """At the start of a march: fully on or off where the sensor is away from the target."""
        miss = 0.0 if drive.fixed else drive.miss(start.temperature)
        bound = drive.highest if miss < -DRIFT else drive.lowest if miss > DRIFT else None
        return cls(drive, bound, start.power)

    def mode(self, length: float, point: Instant) -> tuple[Drive, float]:
        """The heater for a step of about `length` [s] from `point`, and the shortest step it is good for [s]."""
        if self.drive.fixed:
            return self.drive, 0.0
        if self.bound is not None:
            return self.drive.pinned(self.bound), 0.0
        if length < self.sample and abs(self.drive.miss(point.temperature)) <= DRIFT:
            return self.drive.pinned(self.power), 0.0
        return self.drive, self.sample

    def room(self, miss: float) -> float:
        """How far the sensor, `miss` [K] above the target, is from meeting it, the power at a bound; negative beyond [K]."""
        if self.bound is None:
            return math.inf
        return -miss if self.bound == self.drive.highest else miss

    def after(self, step: TimeStep) -> Control:
        """The controller after `step`: pinned to a bound it has come to, free again where the sensor meets the target."""
        if self.drive.fixed:
            return self
        miss, power = self.drive.miss(step.end.temperature), step.end.power
        if self.bound is not None:
            if self.room(miss) > MET:
                return self
            return replace(self, bound=None, power=power, sample=min(2.0 * self.sample, LONGEST_SAMPLE))
        at_bound = (power == self.drive.highest and miss < -MET) or (power == self.drive.lowest and miss > MET)
        return replace(self, bound=power if at_bound else None, power=step.power)
