"""Outliers: Huber's loss and weights, the scatter that they do not rule, and from where on one is named."""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq
from scipy.stats import median_abs_deviation, norm

KNEE = 1.345  # beyond as many standard deviations a sample pulls no harder: 95 % efficient for normal noise (Huber)
OUTLYING = 3.5  # robust z beyond which a sample is shown as an outlier: Iglewicz and Hoaglin (1993)


def huber(squares: np.ndarray, robust: np.ndarray) -> np.ndarray:
    """Loss and its first two derivatives by the squared residuals [-], shape (3, m), from those squares, shape (m,).

    Residuals that `robust`, shape (m,), marks are weighed by the loss of Huber (Ann. Math. Stat. 35:73, 1964), quadratic up to
    KNEE, linear beyond; the others by their square. The second derivative is given as none: with it an outlier would count as
    without slope in a search, and a start at which most samples are outliers would never be left. Steps are those of
    reweighted least squares.
    """
    size = np.sqrt(squares)
    far = robust & (size > KNEE)
    safe = np.where(far, size, 1.0)
    loss = np.where(far, 2.0 * KNEE * safe - KNEE**2, squares)
    return np.array([loss, np.where(far, KNEE / safe, 1.0), np.zeros_like(squares)])


def scatter_of(misses: np.ndarray) -> float:
    """Median absolute deviation of `misses`, shape (n,), in terms of a normal standard deviation, in their unit [as given]."""
    return float(median_abs_deviation(misses, center=np.median, scale="normal"))


def scale_of(residuals: np.ndarray, robust: np.ndarray, freedom: int) -> float:
    """The factor [-] by which `residuals`, shape (m,), scatter more than they should, outliers counted up to the knee alone.

    Huber's proposal 2: the scale s at which the sum of min(z / s, KNEE)^2 is what normal noise makes it (Robust Statistics,
    1981, from memory). `robust`, shape (m,), marks those that may be outliers.
    """
    widest = max(float(np.abs(residuals).max()), 1.0) * np.sqrt(residuals.size) * 2.0
    least = 1e-9
    if spread(residuals, robust, least) <= freedom:
        return 0.0
    return float(brentq(lambda scale: spread(residuals, robust, scale) - freedom, least, widest))


def spread(residuals: np.ndarray, robust: np.ndarray, scale: float = 1.0) -> float:
    """Sum of squares of `residuals` over `scale`, shape (m,), those of `robust` ones capped at the knee and divided by their
    mean for normal noise."""
    squares = np.square(residuals / scale)
    inside = norm.cdf(KNEE) - norm.cdf(-KNEE)
    usual = inside - 2.0 * KNEE * norm.pdf(KNEE) + KNEE**2 * (1.0 - inside)  # E[min(z, KNEE)^2]
    return float(np.sum(np.where(robust, np.minimum(squares, KNEE**2) / usual, squares)))
