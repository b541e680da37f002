"""One number from measurements: where chi-square is least, and the interval in which it rises by no more than 3.84."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
from scipy.optimize import brentq, minimize_scalar

RISE = 3.84  # the 95 % point of chi-square with one degree of freedom (any table of the distribution)
IMPOSSIBLE = 1e12  # stands for chi-square where a value cannot be tried
SCANNED = 9  # values tried over the whole range where the start tells no direction
FLAT = 1e-6  # a change of chi-square that tells no direction

Side = Literal["low", "high"]


@dataclass(frozen=True)
class Fit:
    """The `best` value with its `chi_square`; `low` and `high` end its 95 % interval, None where it has no bound there.

    `edge` says at which end of the range chi-square is least, None where it is least inside.
    """

    best: float
    chi_square: float
    low: float | None
    high: float | None
    edge: Side | None = None


def fit(
    chi_square: Callable[[float], float], start: float, least: float, most: float, step: float, tolerance: float
) -> Fit:
    """Least chi-square between `least` and `most`, sought from `start` in growing steps, to within `tolerance`.

    All in the coordinate of `chi_square` (a logarithm, or the number itself); chi-square is taken to have one
    minimum, possibly at an end. Values that cannot be tried may give infinity.
    """

    @cache
    def tried(value: float) -> float:
        return min(float(chi_square(value)), IMPOSSIBLE)

    below, above = _bracket(tried, start, least, most, step)
    found = minimize_scalar(tried, bounds=(below, above), method="bounded", options={"xatol": tolerance})
    best = min((float(found.x), below, above), key=tried)
    edge: Side | None = None
    if tried(best) > FLAT:  # a perfect fit needs no excuse, wherever it lies
        if tried(most) <= tried(best) + FLAT:
            best, edge = most, "high"
        elif tried(least) <= tried(best) + FLAT:
            best, edge = least, "low"
    low = _crossing(tried, best, least, step, tolerance)
    high = _crossing(tried, best, most, step, tolerance)
    return Fit(best, tried(best), low, high, edge)


def _bracket(
    tried: Callable[[float], float], start: float, least: float, most: float, step: float
) -> tuple[float, float]:
    """Values on both sides of the least chi-square, or the end of the range where it falls all the way."""
    here = (max(start - step, least), start, min(start + step, most))
    if max(map(tried, here)) - min(map(tried, here)) < FLAT:
        grid = np.linspace(least, most, SCANNED)
        lowest = int(np.argmin([tried(float(value)) for value in grid]))
        return float(grid[max(lowest - 1, 0)]), float(grid[min(lowest + 1, SCANNED - 1)])
    below, middle, above = here
    while tried(above) < tried(middle) and above < most:
        step *= 2.0
        below, middle, above = middle, above, min(above + step, most)
    while tried(below) < tried(middle) and below > least:
        step *= 2.0
        below, middle, above = max(below - step, least), below, middle
    return below, above


def _crossing(tried: Callable[[float], float], best: float, end: float, step: float, tolerance: float) -> float | None:
    """Where chi-square has risen by 3.84 on the way from `best` to `end`; None where it never does."""

    def excess(value: float) -> float:
        return tried(value) - tried(best) - RISE

    near, direction = best, 1.0 if end > best else -1.0
    step /= 4.0
    while near != end:
        far = best + direction * min(step, abs(end - best))
        if abs(far - end) < tolerance:
            far = end
        if excess(far) > 0.0:
            return float(brentq(excess, near, far, xtol=tolerance))
        near, step = far, 2.0 * step
    return None
