"""Intervals of a fitted broken line by resampling its misses, and the permutation test of two of them; both seeded."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import norm, t

from meltzone.cases.statistics.broken_line import (
    UNKNOWNS,
    BrokenLine,
    FittedLine,
    Refine,
    StartGrid,
    fit,
    one_by_one,
    relative_misses,
)

LEVEL = 0.95
ENOUGH = 10  # deals as extreme as the samples themselves: p is then known well enough
ONE_SIGMA = (0.158655, 0.841345)  # probabilities that lie one standard deviation beside a normal mean


@dataclass(frozen=True)
class Estimate:
    """A number with its 95 % confidence interval and a standard uncertainty, half of the middle 68 %."""

    value: float
    low: float
    high: float
    uncertainty: float


def resampled(
    fitted: FittedLine,
    commanded: np.ndarray,
    delivered: np.ndarray,
    count: int,
    rng: np.random.Generator,
    refine: Refine = one_by_one,
) -> list[BrokenLine]:
    """`count` fits to flows [mm3/s], shape (n,), made of the fitted line and its misses drawn anew with replacement.

    The misses are shares of the commanded flow, centred, and widened by sqrt(n / (n - 4)) for the four numbers fitted (Efron
    and Tibshirani, An Introduction to the Bootstrap, 1993, chapter 9). Flows stay as they were commanded.
    """
    misses = relative_misses(fitted.curve, commanded, delivered)
    size = commanded.size
    misses = (misses - misses.mean()) * np.sqrt(size / (size - UNKNOWNS))
    line, grid = fitted.curve.delivered(commanded), StartGrid.over(commanded)
    drawn = np.array([line + commanded * misses[rng.integers(0, size, size)] for _ in range(count)])
    return refine(commanded, drawn, fitted.scatter, [[fitted.curve, grid.best(commanded, row)] for row in drawn])


def interval(value: float, replicates: np.ndarray, freedom: float = np.inf) -> Estimate:
    """Percentile interval of a number whose `replicates` have the shape (count,), in its unit [as given].

    With few degrees of `freedom` the percentiles lie as much further out as those of Student's t beside the normal's (the
    expanded percentile interval of Hesterberg, The American Statistician 69:371, 2015).
    """
    tail = float(norm.cdf(t.ppf(0.5 * (1.0 - LEVEL), freedom)))
    low, high, left, right = np.quantile(replicates, [tail, 1.0 - tail, *ONE_SIGMA])
    return Estimate(value, float(low), float(high), float(0.5 * (right - left)))


@dataclass(frozen=True)
class Difference:
    """Two series against each other: `ceilings`, the second's less the first's [mm3/s], and probabilities of as much by chance.

    `p_ceiling` is that of ceilings so far apart, `p_curve` that of curves so far apart, if both series were one.
    """

    ceilings: float
    p_ceiling: float
    p_curve: float


def difference(
    first: tuple[np.ndarray, np.ndarray],
    second: tuple[np.ndarray, np.ndarray],
    least_scatter: float,
    stages: Sequence[int],
    rng: np.random.Generator,
    refine: Refine = one_by_one,
) -> Difference:
    """Permutation test of two series of (commanded, delivered) flows [mm3/s], each of shape (n,).

    One line is fitted to both; its misses are dealt out anew among all samples, and two lines fitted each time (permuted
    residuals of the reduced model: Freedman and Lane, J. Bus. Econ. Stat. 1:292, 1983). The curves are compared by how much
    two lines lessen the sum of |misses|. p = (1 + as extreme) / (1 + count) (Phipson and Smyth, Stat. Appl. Genet. Mol. Biol.
    9:39, 2010). The misses are dealt as often as `stages` say, and after a stage no more where ENOUGH deals were as extreme
    (sequential Monte Carlo tests: Besag and Clifford, Biometrika 78:301, 1991, from memory).
    """
    commanded, delivered = np.concatenate([first[0], second[0]]), np.concatenate([first[1], second[1]])
    mine = np.arange(commanded.size) < first[0].size
    common = fit(commanded, delivered, least_scatter, refine)
    line = common.curve.delivered(commanded)
    misses = relative_misses(common.curve, commanded, delivered)
    judge = _judge(commanded, mine, common, refine)
    ((apart, gained),) = judge(delivered[None])
    extreme, count = np.ones(2), 1
    for deals in stages:
        dealt = judge(np.array([line + commanded * rng.permutation(misses) for _ in range(deals)]))
        extreme += [np.sum(np.abs(dealt[:, 0]) >= abs(apart)), np.sum(dealt[:, 1] >= gained)]
        count += deals
        if extreme.min() > ENOUGH:
            break
    return Difference(float(apart), *map(float, extreme / count))


def _judge(
    commanded: np.ndarray, mine: np.ndarray, common: FittedLine, refine: Refine
) -> Callable[[np.ndarray], np.ndarray]:
    """What is compared of flows, shape (b, n): difference of the ceilings, and what two lines gain over one, shape (b, 2)."""
    sides = [(side, StartGrid.over(commanded[side])) for side in (mine, ~mine, mine | ~mine)]

    def judged(delivered: np.ndarray) -> np.ndarray:
        ceilings, missed = [], []
        for side, grid in sides:
            flows, came = commanded[side], delivered[:, side]
            curves = refine(flows, came, common.scatter, [[common.curve, grid.best(flows, row)] for row in came])
            misses = [relative_misses(curve, flows, row) for curve, row in zip(curves, came, strict=True)]
            ceilings.append(np.array([curve.ceiling for curve in curves]))
            missed.append(np.abs(misses).sum(axis=1))
        return np.stack([ceilings[1] - ceilings[0], missed[2] - (missed[0] + missed[1])], axis=1)

    return judged
