"""Which unknowns a fit identifies: what is without influence or confounded, and what one more measurement would part."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

CONFOUNDED = 0.95  # a correlation beyond this is no telling apart
WITHOUT_INFLUENCE = 0.05  # standard deviations by which a natural change moves all data together
SHARE = 0.2  # of a weak direction: an unknown with less has no part in it


@dataclass(frozen=True)
class Confounded:
    """Unknowns, by their `places`, that the data cannot tell apart: their largest `correlation` [-] and how they trade.

    `trade` has the changes, one of each in natural ones [-], that together leave the fit as it is.
    """

    places: tuple[int, ...]
    correlation: float
    trade: tuple[float, ...]


def without_influence(slopes: np.ndarray, natural: float) -> bool:
    """Whether the data do not answer to an unknown at its value: `slopes` of the weighed residuals by it, shape (m,).

    `natural` is a natural change of it, in its unit [as given].
    """
    return float(np.linalg.norm(slopes)) * natural < WITHOUT_INFLUENCE


def confounded(covariance: np.ndarray, natural: np.ndarray) -> tuple[Confounded, ...]:
    """What cannot be told apart, by the `covariance` of the unknowns, shape (k, k), and their `natural` changes, shape (k,).

    Pairs whose correlation is beyond CONFOUNDED; where no pair is but an unknown's multiple correlation with all others
    together, the unknowns that share the weakest direction.
    """
    correlation, size = correlation_of(covariance), natural.size
    groups: list[Sequence[int]] = [pair for pair in combinations(range(size), 2) if abs(correlation[pair]) > CONFOUNDED]
    if not groups and size > 2:
        together = np.sqrt(1.0 - 1.0 / np.diag(np.linalg.inv(correlation)))
        weakest = np.flatnonzero(np.abs(_weakest(covariance, natural)) > SHARE)
        groups = [weakest.tolist()] if together.max() > CONFOUNDED else []
    found = []
    for group in groups:
        inside = np.ix_(group, group)
        worst = max((correlation[pair] for pair in combinations(group, 2)), key=abs)
        trade = _weakest(covariance[inside], natural[list(group)])
        found.append(Confounded(tuple(group), float(worst), tuple(map(float, trade))))
    return tuple(found)


def correlation_of(covariance: np.ndarray) -> np.ndarray:
    """Correlation of the unknowns [-], shape (k, k), from their `covariance`; zero with one of infinite variance."""
    scale = np.sqrt(np.diag(covariance))
    known = np.where(np.isfinite(scale), scale, 1.0)
    found = np.where(np.isfinite(covariance), covariance, 0.0) / np.outer(known, known)
    np.fill_diagonal(found, 1.0)
    return found


def _weakest(covariance: np.ndarray, natural: np.ndarray) -> np.ndarray:
    """The direction that the data know least, in natural changes, shape (k,)."""
    return np.asarray(np.linalg.eigh(covariance / np.outer(natural, natural))[1][:, -1])


def after_one_more(covariance: np.ndarray, slopes: np.ndarray) -> np.ndarray:
    """The `covariance` (k, k) that one more measurement would leave, by its `slopes` in standard deviations, shape (m, k)."""
    return np.asarray(np.linalg.inv(np.linalg.inv(covariance) + slopes.T @ slopes))
