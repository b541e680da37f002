"""Cubics from node to node by their values and slopes there: what curves and losses over temperature are made of."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from scipy.linalg import solve_banded

# The interpolation of scipy would do the same, but takes a tenth of a second to load, a good part of a whole call.


@dataclass(frozen=True, eq=False)
class Pieces:
    """Cubics between rising `nodes`, with `values` and `slopes` there, all of shape (n,); the outer ones run on beyond."""

    nodes: np.ndarray
    values: np.ndarray
    slopes: np.ndarray

    def __call__(self, at: Any, order: int = 0) -> np.ndarray:
        """Value at `at`, of its shape; with `order` 1 the derivative."""
        a, b, c, d = self._powers
        return self._summed((b, 2.0 * c, 3.0 * d) if order else (a, b, c, d), at)

    def area(self, at: Any) -> np.ndarray:
        """Integral from the first node to `at`, of its shape."""
        return self._summed(self._area_powers, at)

    def _summed(self, powers: Iterable[np.ndarray], at: Any) -> np.ndarray:
        """Sum of `powers`, the lowest first, (n - 1,) each, of the way from the first node of its piece to each place `at`."""
        at = np.asarray(at, dtype=float)
        piece = np.searchsorted(self.nodes[1:-1], at, side="right")
        x = at - self.nodes.take(piece)
        *lower, highest = powers
        total = highest.take(piece)
        for power in reversed(lower):
            total *= x
            total += power.take(piece)
        return np.asarray(total)

    @cached_property
    def _powers(self) -> np.ndarray:
        """Coefficients of 1, x, x^2 and x^3 from each piece's first node, (4, n - 1)."""
        step, first, last = np.diff(self.nodes), self.slopes[:-1], self.slopes[1:]
        mean = np.diff(self.values) / step
        return np.stack(
            [self.values[:-1], first, (3.0 * mean - 2.0 * first - last) / step, (first + last - 2.0 * mean) / step**2]
        )

    @cached_property
    def _area_powers(self) -> tuple[np.ndarray, ...]:
        """Those of the integral from the first node."""
        a, b, c, d = self._powers
        x = np.diff(self.nodes)
        whole = x * (a + x * (b / 2.0 + x * (c / 3.0 + x * d / 4.0)))
        return np.concatenate([[0.0], np.cumsum(whole)[:-1]]), a, b / 2.0, c / 3.0, d / 4.0


def smooth(nodes: np.ndarray, values: np.ndarray) -> Pieces:
    """The cubic spline through at least four points, (n,) each: twice differentiable, one cubic over both outer pairs."""
    step = np.diff(nodes)
    mean = np.diff(values) / step
    bands, right = np.zeros((3, nodes.size)), np.empty(nodes.size)
    bands[1, 1:-1] = 2.0 * (step[:-1] + step[1:])
    bands[0, 2:], bands[2, :-2] = step[:-1], step[1:]
    right[1:-1] = 3.0 * (step[1:] * mean[:-1] + step[:-1] * mean[1:])
    for end, near, far, band, column in ((0, 0, 1, 0, 1), (-1, -1, -2, 2, -2)):
        both = step[near] + step[far]
        bands[1, end], bands[band, column] = step[far], both
        right[end] = ((step[near] + 2.0 * both) * step[far] * mean[near] + step[near] ** 2 * mean[far]) / both
    return Pieces(nodes, values, solve_banded((1, 1), bands, right))


def monotone(nodes: np.ndarray, values: np.ndarray) -> Pieces:
    """The shape-preserving cubic of Fritsch and Butland (1984) through at least two points, (n,) each: it never overshoots.

    Inner slopes are harmonic means of those of the chords, zero at a turn; the outer ones follow a parabola as far as that
    overshoots nothing.
    """
    step = np.diff(nodes)
    mean = np.diff(values) / step
    if mean.size == 1:
        return Pieces(nodes, values, np.repeat(mean, 2))
    slopes = np.zeros(nodes.size)
    left, right = 2.0 * step[1:] + step[:-1], step[1:] + 2.0 * step[:-1]
    rising = mean[:-1] * mean[1:] > 0.0
    inner = (left + right)[rising] / (left[rising] / mean[:-1][rising] + right[rising] / mean[1:][rising])
    slopes[1:-1][rising] = inner
    slopes[0] = _at_end(step[0], step[1], mean[0], mean[1])
    slopes[-1] = _at_end(step[-1], step[-2], mean[-1], mean[-2])
    return Pieces(nodes, values, slopes)


def _at_end(near: float, far: float, mean: float, beyond: float) -> float:
    """Slope at an end from the steps and slopes of the two chords next to it."""
    slope = ((2.0 * near + far) * mean - near * beyond) / (near + far)
    if np.sign(slope) != np.sign(mean):
        return 0.0
    if np.sign(mean) != np.sign(beyond) and abs(slope) > 3.0 * abs(mean):
        return 3.0 * mean
    return slope
