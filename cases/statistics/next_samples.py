"""Where further samples of a broken line narrow an interval most: the design that least variance of one number asks for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from meltzone.cases.statistics.broken_line import BrokenLine, misses_and_slopes

MOST = 6  # samples proposed at once
STEP = 1e-6  # of each unknown, for the slope of the number sought
CORNER = 0.05  # flows within this share of a corner count for both pieces: where it lies is not known better


@dataclass(frozen=True)
class Proposal:
    """`count` more samples at the commanded `flow` [mm3/s]; `half_width` is that of the interval they lead to, in its unit."""

    count: int
    flow: float
    half_width: float


def propose(
    curve: BrokenLine,
    commanded: np.ndarray,
    candidates: np.ndarray,
    sought: Callable[[BrokenLine], float],
    half_width: float,
    target: float,
) -> Proposal:
    """The fewest further samples, at one of the `candidates` flows [mm3/s], shape (k,), that bring an interval to `target`.

    The interval is that of the number `sought`, of half the width `half_width` with samples at `commanded` flows [mm3/s], shape
    (n,). Its variance goes with g (J'J)^-1 g, J the slopes of the misses by the unknowns and g that of the number (least
    squares to first order; a design that minimises it is called c-optimal: Atkinson, Donev and Tobias, Optimum Experimental
    Designs, with SAS, 2007, chapter 10). No more than a handful are proposed: those may not reach the target.
    """
    slope = _slope(curve, sought)
    now = _information(curve, commanded)
    before = _variance(now, slope)
    best = Proposal(0, float(candidates[0]), half_width)
    for count in range(1, MOST + 1):
        after = [_variance(now + count * _information(curve, np.array([flow])), slope) for flow in candidates]
        place = int(np.argmin(after))
        best = Proposal(count, float(candidates[place]), half_width * float(np.sqrt(after[place] / before)))
        if best.half_width <= target:
            break
    return best


def _information(curve: BrokenLine, commanded: np.ndarray) -> np.ndarray:
    """J'J (4, 4) of samples at `commanded` flows, averaged over corners that lie a little lower and higher."""
    found = []
    for share in (1.0 - CORNER, 1.0, 1.0 + CORNER):
        unknowns = np.array([[curve.gain, curve.turn * share, curve.onset_share, curve.slope]])
        slopes = misses_and_slopes(unknowns, commanded, curve.delivered(commanded)[None])[1][0]
        found.append(slopes.T @ slopes)
    return np.asarray(np.mean(found, axis=0))


def _slope(curve: BrokenLine, sought: Callable[[BrokenLine], float]) -> np.ndarray:
    values = np.array([curve.gain, curve.turn, curve.onset_share, curve.slope])
    steps = STEP * np.maximum(np.abs(values), 1e-3)
    ahead = [sought(BrokenLine(*(values + step * (np.arange(4) == k)))) for k, step in enumerate(steps)]
    return (np.array(ahead) - sought(curve)) / steps


def _variance(information: np.ndarray, slope: np.ndarray) -> float:
    """g (J'J)^-1 g, with a trace of a diagonal where a piece has no sample."""
    size = np.sqrt(np.maximum(np.diag(information), 1e-12))
    scaled = information / np.outer(size, size) + 1e-9 * np.eye(4)
    return float((slope / size) @ np.linalg.solve(scaled, slope / size))
