"""How much a slipping feeder delivers: the law that ties slip to the feeding force beyond its grip."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from meltzone.fem.field import Field
from meltzone.fem.slow_flow.feeding import feeding
from meltzone.fem.steady import solve_at_flow

BEYOND = 1.05  # of the force ceiling: where the force is solved once more, for its slope
HALVINGS = 60


@dataclass(frozen=True)
class SlipLaw:
    """A feeder that holds up to its grip, and beyond it lets the filament slip.

    At a delivered flow Q pushing takes F(Q) = F_0 (Q / Q_0)^p near the force ceiling Q_0 = `flow` [m3/s], p = `exponent`
    [-]. Where that is below the grip F_0, all that is commanded is delivered; beyond, the slip s = 1 - Q / Q_c of the commanded
    flow Q_c settles so that F(Q) = F_0 (1 + c s): the wheel pulls a little more the faster it slips, c = `rise` [-].

    `soft` [-] rounds the corner: the slip at a commanded flow of Q_0. What is delivered is (Q_c^-k + Q_s^-k)^(-1/k), with what
    the law above gives at most, Q_s, and k = ln 2 / -ln(1 - soft). Below the grip the slip is (1/k) (F / F_0)^(k/p), which
    grows with the force. Zero leaves the corner.
    """

    flow: float
    exponent: float
    rise: float
    soft: float = 0.0

    def delivered(self, commanded: np.ndarray) -> np.ndarray:
        """Delivered flow [m3/s] at `commanded` flows [m3/s], of the same shape, by halving in the logarithm."""
        asked = np.asarray(commanded, dtype=float)
        low, high = np.full_like(asked, self.flow), np.maximum(asked, self.flow)
        for _ in range(HALVINGS):
            middle = np.sqrt(low * high)
            excess = (
                (middle / self.flow) ** self.exponent - 1.0 - self.rise * (1.0 - middle / np.maximum(asked, middle))
            )
            low, high = np.where(excess < 0.0, middle, low), np.where(excess < 0.0, high, middle)
        return self._rounded(asked, low)

    def _rounded(self, asked: np.ndarray, most: np.ndarray) -> np.ndarray:
        """The lesser of `asked` and `most` [m3/s], rounded where they meet."""
        if self.soft <= 0.0:
            return np.minimum(asked, most)
        sharp = -math.log(2.0) / math.log1p(-self.soft)
        least, other = np.minimum(asked, most), np.maximum(asked, most)
        return np.asarray(least * (1.0 + (least / other) ** sharp) ** (-1.0 / sharp))


def slip_law(ceiling: Field) -> SlipLaw:
    """The law about a force ceiling, `ceiling`: its exponent is d ln F / d ln Q from there to 5 % more flow.

    Raises NoConvergence, and ValueError where the polymer lacks a number.
    """
    further = solve_at_flow(ceiling.system, BEYOND * ceiling.flow, ceiling.state)
    steepness = math.log(feeding(further).force / feeding(ceiling).force) / math.log(BEYOND)
    operation = ceiling.problem.operation
    return SlipLaw(ceiling.flow, steepness, operation.slip_rise, operation.slip_at_grip)
