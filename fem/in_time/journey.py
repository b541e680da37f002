"""How long the polymer in the bore has been under way when the flow changes, and where its skin has softened by then."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from meltzone.fem.contact import BoreLaw

LONG_AGO = 1e6  # flows before the first one given have lasted for this long [s]


@dataclass(frozen=True, eq=False)
class Journey:
    """A flow that changes in steps: `flows` (n,) [m3/s], each from its time in `times` (n,) [s] on; all above zero.

    The first flow has been there for ever, so that its time does not count.
    """

    times: Sequence[float]
    flows: Sequence[float]

    @cached_property
    def _volumes(self) -> tuple[np.ndarray, np.ndarray]:
        """Times [s] and the volume passed by then [m3], between which the volume rises evenly."""
        ends = np.array([*self.times[1:], self.times[-1] + LONG_AGO])
        starts = np.array([self.times[0] - LONG_AGO, *self.times[1:]])
        passed = np.concatenate([[0.0], np.cumsum(np.asarray(self.flows) * (ends - starts))])
        return np.concatenate([starts, ends[-1:]]), passed

    def age(self, volume: np.ndarray, time: float) -> np.ndarray:
        """How long ago what now has `volume` [m3] of the passage behind it entered, at `time` [s]: the same shape [s]."""
        times, passed = self._volumes
        now = float(np.interp(time, times, passed))
        return np.asarray(time - np.interp(now - volume, passed, times))


@dataclass(frozen=True)
class AgedBoreLaw(BoreLaw):
    """The bore law at `time` [s] of a `journey`: by the time that each piece of filament has spent below the level `top`.

    With a steady flow Q, the time t since a piece passed the upper face and its depth z are one: t = z pi R^2 / Q. The skin
    softens after a time, not a length, so x of the steady law becomes x = t / t_soft with
    t_soft = softening_length pi R^2, which is the same number in the steady state. `radius` is that of the bore at the
    upper face, R [m].
    """

    journey: Journey
    time: float
    radius: float

    def __call__(self, heights: np.ndarray, flow: float) -> tuple[np.ndarray, np.ndarray]:
        """Conductance [W/m2/K] at `heights` [m], and zeros of the same shape: the journey is given, the `flow` not asked."""
        share, dry = self.wetted(heights, flow), self.dry(heights)
        conductance, _ = self.seen(heights, dry + (self.melt - dry) * share)
        return conductance, np.zeros_like(share)

    def wetted(self, heights: np.ndarray, flow: float) -> np.ndarray:
        """Share of melt contact at `heights` [m], 0 to 1 [-], whatever the `flow` [m3/s]."""
        section = math.pi * self.radius**2
        age = self.journey.age(section * np.clip(self.top - heights, 0.0, None), self.time)
        way = self.softening_length * section
        if self.liner is not None:  # the time that the liner is passed in, by the piece now at its end
            way = self.liner.way(section, float(self.journey.age(np.array(section * self.liner.depth), self.time)))
        x = np.minimum(age / way, 1e3) ** 4
        return np.asarray(x / (1.0 + x))
