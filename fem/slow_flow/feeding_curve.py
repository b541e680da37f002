"""The feeding force over the flow, from a few solves about the melt ceiling: any grip then has its slip law without a solve."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from meltzone.fem.field import Field
from meltzone.fem.slow_flow.feeding import feeding
from meltzone.fem.slow_flow.slip import SlipLaw
from meltzone.fem.steady import solve_at_flow
from meltzone.fem.threads import one_thread

RISING = 1e-9  # keeps equal forces apart, relative
SHARES = (0.5, 0.75, 1.05, 1.45, 2.0)  # of the melt ceiling: where the force is found


@dataclass(frozen=True, eq=False)
class FeedingCurve:
    """Force over flow: `flows` [m3/s] and `forces` [N] at the same places, shape (n,)."""

    flows: np.ndarray
    forces: np.ndarray

    def slip_law(self, grip: float, rise: float, soft: float = 0.0) -> SlipLaw:
        """The law of a feeder of `grip` [N] that pulls the share `rise` [-] more when it spins in place, its corner `soft` [-].

        ln Q goes with ln F by monotone cubic pieces between the places, and on with the slope at the ends beyond them.
        """
        forces = np.log(np.maximum.accumulate(self.forces) * (1.0 + RISING * np.arange(self.forces.size)))
        spline = PchipInterpolator(forces, np.log(self.flows))
        asked = float(np.log(grip))
        inside = float(np.clip(asked, forces[0], forces[-1]))
        slope = max(float(spline(inside, 1)), 1e-3)
        return SlipLaw(float(np.exp(spline(inside) + slope * (asked - inside))), 1.0 / slope, rise, soft)


@one_thread()
def feeding_curve(melt: Field) -> FeedingCurve:
    """The curve about a melt ceiling, `melt`.

    Raises ValueError where the polymer lacks a number, NoConvergence where a solve fails.
    """
    flows, forces, field = np.array(SHARES) * melt.flow, [], melt
    for flow in flows:
        field = solve_at_flow(melt.system, float(flow), field.state)
        forces.append(feeding(field).force)
    return FeedingCurve(flows, np.array(forces))
