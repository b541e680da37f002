"""Several numbers at once: robust least squares of whitened residuals, their covariance, and intervals along profiles."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from scipy.optimize import brentq, least_squares
from scipy.stats import chi2, norm, t

from meltzone.cases.statistics.robust import huber, scale_of, spread

LEVEL = 0.95
STATED = float(norm.ppf(0.5 * (1.0 + LEVEL)))  # half a 95 % interval in standard deviations
SUSPECT = 0.05  # a chi-square this improbable, or less, widens the intervals
SINGULAR = 1e-6  # singular values below this share of the largest tell nothing
TOLERANCE = 1e-5  # of the search, relative
MOST_STEPS = 40
COARSE, FEW_STEPS = 2e-3, 6  # of the others' search along a profile
CLOSE_END = 0.03  # of its distance from the best value: how closely the end of an interval is sought
CLOSE_ALONE = 1e-7  # of the search and of an end, where there is one unknown
NOTHING = 1e-3  # of the steps of derivatives
FIRST, STRIDE = 40.0, 2.0  # first step in those of the derivatives, and the factor of the following ones


@dataclass(frozen=True, eq=False)
class LeastSquares:
    """A least-squares problem: unknowns between `least` and `most`, sought from `start`, each of shape (n,).

    `residuals` gives misses in standard deviations, shape (m,), from unknowns of shape (n,). `step` is what the unknowns are
    moved by for derivatives, shape (n,). `robust`, shape (m,), marks residuals that may be outliers, weighed by `huber`.
    """

    residuals: Callable[[np.ndarray], np.ndarray]
    start: np.ndarray
    least: np.ndarray
    most: np.ndarray
    step: np.ndarray
    robust: np.ndarray

    def total(self, values: np.ndarray) -> float:
        """The whole loss [-] at unknowns of shape (n,)."""
        return float(huber(np.square(self.residuals(values)), self.robust)[0].sum())

    def slopes(self, values: np.ndarray, both_sides: bool = False) -> np.ndarray:
        """Derivatives of the residuals [1/unit of the unknown] at unknowns of shape (n,): (m, n), by differences."""
        here = self.residuals(values)
        columns = []
        for number, step in enumerate(self.step):
            moved = np.zeros_like(values)
            moved[number] = step if values[number] + step <= self.most[number] else -step
            after = self.residuals(values + moved)
            back = values - moved
            if both_sides and self.least[number] <= back[number] <= self.most[number]:
                columns.append((after - self.residuals(back)) / (2.0 * moved[number]))
            else:
                columns.append((after - here) / moved[number])
        return np.stack(columns, axis=1)


@dataclass(frozen=True, eq=False)
class FitResult:
    """The best `values` (n,), `residuals` and `weights` (m,) there, `slopes` (m, n), `covariance` (n, n) not yet widened.

    A weight is 1, less for an outlier. `freedom` counts residuals less unknowns. `misfit` [-] is the scatter of the residuals
    over what was stated; `multiple` is the half width of a 95 % interval in standard deviations, more where `widened`.
    """

    values: np.ndarray
    residuals: np.ndarray
    weights: np.ndarray
    slopes: np.ndarray
    covariance: np.ndarray
    freedom: int
    misfit: float
    multiple: float
    chi_square: float

    @property
    def widened(self) -> bool:
        """Whether the intervals are wider than the stated uncertainties alone make them."""
        return self.multiple > STATED


def fit(problem: LeastSquares) -> FitResult:
    """The least loss and what surrounds it, by the stated uncertainties alone."""
    alone = problem.start.size == 1  # then closeness costs little
    closeness = CLOSE_ALONE if alone else TOLERANCE
    return around(problem, _sought(problem, closeness, MOST_STEPS, flat=1e-10, both_sides=alone))


def _sought(
    problem: LeastSquares, closeness: float, steps: int, flat: float = 1e-8, both_sides: bool = False
) -> np.ndarray:
    """The unknowns of the least loss, (n,), found within `closeness` or at a slope of `flat` [-], in `steps` at most."""
    inside = 1e-6 * (problem.most - problem.least)
    inside = np.where(np.isfinite(inside), inside, 0.0)
    # the first step is as long as the start is large: one that is next to nothing has to be nothing, which is told apart
    start = np.where(np.abs(problem.start) < NOTHING * problem.step, 0.0, problem.start)
    found = least_squares(
        problem.residuals,
        np.clip(start, problem.least + inside, problem.most - inside),
        lambda values: problem.slopes(values, both_sides),
        bounds=(problem.least, problem.most),
        x_scale=problem.step,
        loss=lambda squares: huber(squares, problem.robust),
        xtol=closeness,
        ftol=closeness,
        gtol=flat,
        max_nfev=steps,
    )
    return np.asarray(found.x)


def around(problem: LeastSquares, values: np.ndarray) -> FitResult:
    """What surrounds the unknowns `values`, shape (n,), by the stated uncertainties alone."""
    residuals = problem.residuals(values)
    squares = np.square(residuals)
    weights = huber(squares, problem.robust)[1]
    slopes = problem.slopes(values, both_sides=True)
    shared, freedom = covariance(slopes, weights), residuals.size - values.size
    misfit = scale_of(residuals, problem.robust, freedom) if freedom > 0 else 1.0
    return FitResult(values, residuals, weights, slopes, shared, freedom, misfit, STATED, float(squares.sum()))


def widened(problem: LeastSquares, found: FitResult) -> FitResult:
    """The same with wider intervals where the misfit is more than chance: by its size, and as Student's t has it."""
    if found.freedom > 0 and chi2.sf(spread(found.residuals, problem.robust), found.freedom) < SUSPECT:
        return replace(found, multiple=float(t.ppf(0.5 * (1.0 + LEVEL), found.freedom)) * found.misfit)
    return found


def covariance(slopes: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Inverse of J^T W J, shape (n, n), of whitened `slopes` J (m, n) and `weights` W (m,), by singular values.

    Unknowns without any influence have an infinite variance; directions that the data leave open a very large one. For Huber's
    weights it is the covariance to within a percent if the noise is normal.
    """
    weighed = np.sqrt(weights)[:, None] * slopes
    norms = np.linalg.norm(weighed, axis=0)
    seen = norms > 0.0
    found = np.full((norms.size, norms.size), 0.0)
    found[~seen, ~seen] = np.inf
    if seen.any():
        _, sizes, rows = np.linalg.svd(weighed[:, seen] / norms[seen], full_matrices=False)
        full = np.zeros((int(seen.sum()), int(seen.sum())))
        sizes = np.maximum(sizes, SINGULAR * sizes[0])
        full = (rows.T / sizes**2) @ rows
        if rows.shape[0] < rows.shape[1]:  # fewer measured values than unknowns: what is left over is open
            full += (np.eye(rows.shape[1]) - rows.T @ rows) / (SINGULAR * sizes[0]) ** 2
        found[np.ix_(seen, seen)] = full / np.outer(norms[seen], norms[seen])
    return found


def interval_end(problem: LeastSquares, best: FitResult, number: int, end: float) -> float | None:
    """Where the loss, the others fitted anew, has risen by the square of `best.multiple` on the way to `end`; None if nowhere.

    `number` counts the unknown; `end` [unit of the unknown] is the limit of the search.
    """
    centre, lowest, allowed = best.values[number], problem.total(best.values), best.multiple**2
    reach, direction = abs(end - centre), 1.0 if end > centre else -1.0
    path = [(0.0, best.values)]
    close = CLOSE_END if best.values.size > 1 else CLOSE_ALONE

    @cache
    def excess(distance: float) -> float:
        if distance == 0.0:
            return -allowed
        near = _foreseen(problem, best, number, path, direction * distance)
        others = _refitted(problem, best, number, centre + direction * distance, near)
        path.append((direction * distance, others))
        return problem.total(others) - lowest - allowed

    near, far = 0.0, min(best.multiple * float(np.sqrt(best.covariance[number, number])), FIRST * problem.step[number])
    while near < reach * (1.0 - 1e-9):
        far = min(far, reach)
        if excess(far) > 0.0:
            return float(centre + direction * brentq(excess, near, far, xtol=close * far))
        near, far = far, STRIDE * far
    return None


def _foreseen(
    problem: LeastSquares, best: FitResult, number: int, path: list[tuple[float, np.ndarray]], distance: float
) -> np.ndarray:
    """Where the other unknowns are about to be at `distance` from the best value: straight on along the `path`."""
    if len(path) > 1:
        (one, first), (other, second) = sorted(path, key=lambda each: abs(each[0] - distance))[:2]
        slope = (second - first) / (other - one)
        found = first + slope * (distance - one)
    else:
        variance = best.covariance[number, number]
        shift = best.covariance[:, number] / variance if np.isfinite(variance) else np.zeros_like(best.values)
        found = best.values + distance * shift
    return np.clip(found, problem.least, problem.most)


def _refitted(problem: LeastSquares, best: FitResult, number: int, value: float, near: np.ndarray) -> np.ndarray:
    """The unknowns with that of `number` held at `value` and all others at the least loss, sought from `near`."""
    rest = np.arange(near.size) != number
    rest &= np.isfinite(np.diag(best.covariance))
    held = near.copy()
    held[number] = value
    if not rest.any():
        return held
    places = np.flatnonzero(rest)

    def whole(part: np.ndarray) -> np.ndarray:
        full = held.copy()
        full[places] = part
        return full

    inner = replace(
        problem,
        residuals=lambda part: problem.residuals(whole(part)),
        start=near[places],
        least=problem.least[places],
        most=problem.most[places],
        step=problem.step[places],
    )
    return whole(_sought(inner, COARSE, FEW_STEPS))
