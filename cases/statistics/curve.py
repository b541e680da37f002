"""A curve through points by least squares: values, 95 % intervals along profiles, scatter, Akaike's criterion among curves."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

LEVEL = 0.95
CLOSE = 1e-3  # of the distance of an end from the best value
FIRST, STRIDE = (
    0.5,
    2.0,
)  # of the half width at the best value: first step outwards, and the factor of the following ones

Residuals = Callable[[np.ndarray], np.ndarray]


@dataclass(frozen=True, eq=False)
class FittedCurve:
    """The best `values` (p,) of a curve and its `residuals` (m,), sought between `low` and `high` (p,) by `by_unknowns`."""

    by_unknowns: Residuals
    low: np.ndarray
    high: np.ndarray
    values: np.ndarray
    residuals: np.ndarray
    slopes: np.ndarray

    @property
    def freedom(self) -> int:
        """Points less unknowns."""
        return self.residuals.size - self.values.size

    @property
    def scatter(self) -> float:
        """Standard deviation of a point about the curve [unit of the residuals]; nan without freedom."""
        return float(np.sqrt(np.sum(self.residuals**2) / self.freedom)) if self.freedom > 0 else float("nan")

    @property
    def criterion(self) -> float:
        """Akaike's criterion for few points, AICc: the lower the better (Hurvich and Tsai, 1989); inf where too few."""
        m, k = self.residuals.size, self.values.size + 1  # the scatter is an unknown too
        if m - k - 1 <= 0:
            return float("inf")
        return float(m * np.log(max(np.mean(self.residuals**2), 1e-300)) + 2 * k + 2 * k * (k + 1) / (m - k - 1))

    @cached_property
    def intervals(self) -> list[tuple[float, float]]:
        """Ends of the 95 % interval of every unknown: where the sum of squares, the others fitted anew, has risen by t^2 s^2.

        An end is that of the search where the data do not tell one. Bates and Watts, Nonlinear Regression Analysis (1988),
        profile t; attribution from memory. For independent errors of one size.
        """
        return [(self._end(number, -1.0), self._end(number, 1.0)) for number in range(self.values.size)]

    def _end(self, number: int, direction: float) -> float:
        from scipy.optimize import brentq  # slow to load
        from scipy.stats import t

        limit = float((self.low if direction < 0.0 else self.high)[number])
        if self.freedom <= 0 or not np.any(self.residuals):
            return limit if self.freedom <= 0 else float(self.values[number])
        centre, reach = float(self.values[number]), abs(limit - float(self.values[number]))
        least = float(np.sum(self.residuals**2))
        allowed = float(t.ppf(0.5 * (1.0 + LEVEL), self.freedom)) ** 2 * least / self.freedom

        def excess(distance: float) -> float:
            return self._held(number, centre + direction * distance) - least - allowed if distance else -allowed

        size = float(np.linalg.norm(self.slopes[:, number]))
        near, far = 0.0, FIRST * np.sqrt(allowed) / size if size > 0.0 else reach
        while near < reach:
            far = min(far, reach)
            if excess(far) > 0.0:
                return centre + direction * float(brentq(excess, near, far, xtol=CLOSE * far))
            near, far = far, STRIDE * far
        return limit

    def _held(self, number: int, value: float) -> float:
        """The least sum of squares with the unknown of that `number` held at `value`."""
        rest = np.arange(self.values.size) != number
        whole = self.values.copy()

        def part(others: np.ndarray) -> np.ndarray:
            whole[number], whole[rest] = value, others
            return self.by_unknowns(whole)

        if not rest.any():
            return float(np.sum(part(np.empty(0)) ** 2))
        return float(2.0 * _search(part, self.values[rest], self.low[rest], self.high[rest]).cost)


def _search(residuals: Residuals, start: np.ndarray, low: np.ndarray, high: np.ndarray) -> Any:
    from scipy.optimize import least_squares  # slow to load

    inside = np.clip(start, low + 1e-9 * (high - low), high - 1e-9 * (high - low))
    return least_squares(residuals, inside, bounds=(low, high), x_scale="jac", xtol=1e-9, ftol=1e-11)


def fitted(residuals: Residuals, start: Sequence[float], low: Sequence[float], high: Sequence[float]) -> FittedCurve:
    """The unknowns of the least sum of squares between `low` and `high`, sought from `start`; `residuals` maps (p,) to (m,)."""
    first, least, most = (np.array(each, dtype=float) for each in (start, low, high))
    found = _search(residuals, first, least, most)
    return FittedCurve(residuals, least, most, found.x, found.fun, found.jac)
