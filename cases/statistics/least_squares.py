"""Several numbers at once: robust least squares of whitened residuals, their covariance, and intervals along profiles."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.optimize import brentq, least_squares
from scipy.stats import chi2, norm, t

KNEE = 1.345  # beyond as many standard deviations a sample pulls no harder: 95 % efficient for normal noise (Huber)
LEVEL = 0.95
SUSPECT = 0.05  # a chi-square this improbable, or less, widens the intervals
SINGULAR = 1e-6  # singular values below this share of the largest tell nothing
TOLERANCE = 1e-5  # of the search, relative
MOST_STEPS = 40
COARSE, FEW_STEPS = 2e-3, 6  # of the others' search along a profile
CLOSE_END = 0.03  # of its distance from the best value: how closely the end of an interval is sought
FIRST, STRIDE = 40.0, 2.0  # first step in those of the derivatives, and the factor of the following ones


@dataclass(frozen=True, eq=False)
class Question:
    """What is asked: unknowns between `least` and `most`, from `start`, each of shape (n,).

    `residuals` gives misses in standard deviations, shape (m,), from unknowns of shape (n,). `step` is what the unknowns are
    moved by for derivatives, shape (n,). `robust`, shape (m,), marks residuals that may be outliers: these are weighed by the
    loss of Huber (Ann. Math. Stat. 35:73, 1964), quadratic up to KNEE, linear beyond.
    """

    residuals: Callable[[np.ndarray], np.ndarray]
    start: np.ndarray
    least: np.ndarray
    most: np.ndarray
    step: np.ndarray
    robust: np.ndarray

    def loss(self, squares: np.ndarray) -> np.ndarray:
        """Loss and its first two derivatives by the squared residuals [-], shape (3, m), from those squares, shape (m,).

        The second derivative is given as none: with it an outlier would count as without slope in the search, and a start at
        which most samples are outliers would never be left. Steps are those of reweighted least squares.
        """
        size = np.sqrt(squares)
        far = self.robust & (size > KNEE)
        safe = np.where(far, size, 1.0)
        loss = np.where(far, 2.0 * KNEE * safe - KNEE**2, squares)
        return np.array([loss, np.where(far, KNEE / safe, 1.0), np.zeros_like(squares)])

    def total(self, values: np.ndarray) -> float:
        """The whole loss [-] at unknowns of shape (n,)."""
        return float(self.loss(np.square(self.residuals(values)))[0].sum())

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
class Answer:
    """The best `values` (n,), `residuals` and `weights` (m,) there, `slopes` (m, n), `covariance` (n, n) not yet widened.

    A weight is 1, less for an outlier. `freedom` counts residuals less unknowns. `misfit` [-] is the scatter of the residuals
    over what was stated; `multiple` is the half width of a 95 % interval in standard deviations, widened where the misfit is
    more than chance.
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
        return bool(self.multiple > norm.ppf(0.5 * (1.0 + LEVEL)) + 1e-9)

    @property
    def correlation(self) -> np.ndarray:
        """Correlation of the unknowns [-], shape (n, n); zero with one that the data are blind to."""
        scale = np.sqrt(np.diag(self.covariance))
        known = np.where(np.isfinite(scale), scale, 1.0)
        found = np.where(np.isfinite(self.covariance), self.covariance, 0.0) / np.outer(known, known)
        np.fill_diagonal(found, 1.0)
        return found


def answer(question: Question) -> Answer:
    """The least loss and what surrounds it."""
    return _around(question, _sought(question, TOLERANCE, MOST_STEPS, flat=1e-10))


def _sought(question: Question, closeness: float, steps: int, flat: float = 1e-8) -> np.ndarray:
    """The unknowns of the least loss, (n,), found within `closeness` or at a slope of `flat` [-], in `steps` at most."""
    inside = 1e-6 * (question.most - question.least)
    inside = np.where(np.isfinite(inside), inside, 0.0)
    found = least_squares(
        question.residuals,
        np.clip(question.start, question.least + inside, question.most - inside),
        question.slopes,
        bounds=(question.least, question.most),
        x_scale=question.step,
        loss=question.loss,
        xtol=closeness,
        ftol=closeness,
        gtol=flat,
        max_nfev=steps,
    )
    return np.asarray(found.x)


def _around(question: Question, values: np.ndarray) -> Answer:
    residuals = question.residuals(values)
    squares = np.square(residuals)
    weights = question.loss(squares)[1]
    slopes = question.slopes(values, both_sides=True)
    freedom = residuals.size - values.size
    misfit, multiple = 1.0, float(norm.ppf(0.5 * (1.0 + LEVEL)))
    if freedom > 0:
        misfit = scale_of(residuals, question.robust, freedom)
        if chi2.sf(_spread(residuals, question.robust, 1.0), freedom) < SUSPECT:
            multiple = float(t.ppf(0.5 * (1.0 + LEVEL), freedom)) * misfit
    return Answer(
        values, residuals, weights, slopes, covariance(slopes, weights), freedom, misfit, multiple, float(squares.sum())
    )


def scale_of(residuals: np.ndarray, robust: np.ndarray, freedom: int) -> float:
    """The factor [-] by which `residuals`, shape (m,), scatter more than they should, outliers counted up to the knee alone.

    Huber's proposal 2: the scale s at which the sum of min(z / s, KNEE)^2 is what normal noise makes it (Robust Statistics,
    1981, from memory). `robust`, shape (m,), marks those that may be outliers.
    """
    widest = max(float(np.abs(residuals).max()), 1.0) * np.sqrt(residuals.size) * 2.0
    least = 1e-9
    if _spread(residuals, robust, least) <= freedom:
        return 0.0
    return float(brentq(lambda scale: _spread(residuals, robust, scale) - freedom, least, widest))


def _spread(residuals: np.ndarray, robust: np.ndarray, scale: float) -> float:
    """Sum of squares over `scale`, those of samples capped at the knee and divided by their mean for normal noise."""
    squares = np.square(residuals / scale)
    inside = norm.cdf(KNEE) - norm.cdf(-KNEE)
    usual = inside - 2.0 * KNEE * norm.pdf(KNEE) + KNEE**2 * (1.0 - inside)  # E[min(z, KNEE)^2]
    return float(np.sum(np.where(robust, np.minimum(squares, KNEE**2) / usual, squares)))


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


def interval_end(question: Question, best: Answer, number: int, end: float) -> float | None:
    """Where the loss, the others fitted anew, has risen by the square of `best.multiple` on the way to `end`; None if nowhere.

    `number` counts the unknown; `end` [unit of the unknown] is the limit of the search.
    """
    centre, lowest, allowed = best.values[number], question.total(best.values), best.multiple**2
    reach, direction = abs(end - centre), 1.0 if end > centre else -1.0
    path = [(0.0, best.values)]

    @cache
    def excess(distance: float) -> float:
        if distance == 0.0:
            return -allowed
        near = _foreseen(question, best, number, path, direction * distance)
        others = _refitted(question, best, number, centre + direction * distance, near)
        path.append((direction * distance, others))
        return question.total(others) - lowest - allowed

    near, far = 0.0, min(best.multiple * float(np.sqrt(best.covariance[number, number])), FIRST * question.step[number])
    while near < reach * (1.0 - 1e-9):
        far = min(far, reach)
        if excess(far) > 0.0:
            return float(centre + direction * brentq(excess, near, far, xtol=CLOSE_END * far))
        near, far = far, STRIDE * far
    return None


def _foreseen(
    question: Question, best: Answer, number: int, path: list[tuple[float, np.ndarray]], distance: float
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
    return np.clip(found, question.least, question.most)


def _refitted(question: Question, best: Answer, number: int, value: float, near: np.ndarray) -> np.ndarray:
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

    inner = Question(
        lambda part: question.residuals(whole(part)),
        near[places],
        question.least[places],
        question.most[places],
        question.step[places],
        question.robust,
    )
    return whole(_sought(inner, COARSE, FEW_STEPS))
