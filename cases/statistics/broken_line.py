"""Delivered over commanded flow as a broken line: a reference line, a slope of under-delivery, a plateau; its robust fit."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy.optimize import least_squares

from meltzone.cases.statistics.robust import scatter_of

UNKNOWNS = 4
FEWEST_FLOWS, FEWEST_SAMPLES = 5, 8  # two for the reference line, one below and two beyond the ceiling
EARLIEST_ONSET = 0.35  # onset as a share of the flow at which the plateau begins
STEEPEST = 0.9  # a slope of the middle piece beyond this share of the reference line's is no under-delivery
TRIED_ONSETS, TRIED_SLOPES = (0.55, 0.7, 0.85, 0.97), (0.05, 0.4, 0.8)
REFINED = 8  # of the tried starts, so many are refined: with half as many one exact line in fifty was not found
ROUNDS = 3  # of the scatter that the robust loss needs


@dataclass(frozen=True)
class BrokenLine:
    """The broken line y(x), x commanded and y delivered flow [mm3/s].

    y = g x up to the onset a; y = g (a + k (x - a)) from there; y = g (a + k (c - a)), the ceiling, from c on. `gain` g [-],
    `turn` c [mm3/s], `onset_share` a / c [-], `slope` k [-] of the middle piece over that of the reference line.
    """

    gain: float
    turn: float
    onset_share: float
    slope: float

    @property
    def onset(self) -> float:
        """Commanded flow a [mm3/s] beyond which less is delivered than the reference line promises."""
        return self.onset_share * self.turn

    @property
    def ceiling(self) -> float:
        """Delivered flow of the plateau [mm3/s]."""
        return self.gain * (self.onset + self.slope * (self.turn - self.onset))

    def delivered(self, commanded: np.ndarray) -> np.ndarray:
        """Delivered flow [mm3/s] at `commanded` flows [mm3/s], of the same shape."""
        below = np.minimum(commanded, self.onset)
        middle = np.clip(commanded, self.onset, self.turn) - self.onset
        return self.gain * (below + self.slope * middle)

    def shortfall(self, commanded: np.ndarray) -> np.ndarray:
        """Share missing against the reference line [-] at `commanded` flows [mm3/s]: 1 - y / (g x)."""
        return 1.0 - self.delivered(commanded) / (self.gain * commanded)

    def flow_at(self, tolerance: float) -> float:
        """Commanded flow [mm3/s] at which the shortfall reaches `tolerance` [-], in closed form.

        On the middle piece (x - a)(1 - k) = tolerance x; on the plateau x = y / (g (1 - tolerance)).
        """
        within = 1.0 - self.slope - tolerance
        if within > 0.0 and (found := self.onset * (1.0 - self.slope) / within) <= self.turn:
            return found
        return self.ceiling / (self.gain * (1.0 - tolerance))


@dataclass(frozen=True)
class FittedLine:
    """A `curve` fitted to samples, with the `scatter` of the samples about it, a share of the commanded flow [-]."""

    curve: BrokenLine
    scatter: float


def fit(commanded: np.ndarray, delivered: np.ndarray, least_scatter: float) -> FittedLine:
    """The broken line through samples of `commanded` and `delivered` flow [mm3/s], shape (n,).

    Least squares of the misses over the commanded flow, each weighed by the loss 2 (sqrt(1 + z^2) - 1), z the miss over the
    scatter, which grows no faster than |z| for outliers (soft l1; Huber (1964) gives the reason). The scatter is the median
    absolute deviation of the misses, not below `least_scatter` [-], found in a few rounds.
    """
    starts = _starts(commanded, delivered)
    scatter = max(least_scatter, 0.01)
    best = starts[0]
    for turn in range(ROUNDS):
        best = refined(commanded, delivered, scatter, starts if turn == 0 else [best])
        misses = relative_misses(best, commanded, delivered)
        scatter = max(least_scatter, scatter_of(misses))
    return FittedLine(refined(commanded, delivered, scatter, [best, *starts]), scatter)


def relative_misses(curve: BrokenLine, commanded: np.ndarray, delivered: np.ndarray) -> np.ndarray:
    """Delivered less fitted over commanded flow [-], shape (n,), of flows [mm3/s]."""
    return np.asarray((delivered - curve.delivered(commanded)) / commanded)


def refined(commanded: np.ndarray, delivered: np.ndarray, scatter: float, starts: list[BrokenLine]) -> BrokenLine:
    """Of the fits begun at `starts` that with the least loss; flows [mm3/s] of shape (n,), `scatter` [-]."""
    low, high = _bounds(commanded)
    fits = [
        least_squares(
            _misses,
            np.clip([c.gain, c.turn, c.onset_share, c.slope], low + 1e-9, high - 1e-9),
            _slopes,
            bounds=(low, high),
            loss="soft_l1",
            f_scale=scatter,
            x_scale=(0.1, float(commanded.max()), 0.3, 0.3),
            xtol=1e-7,
            ftol=1e-7,
            max_nfev=60,
            args=(commanded, delivered),
        )
        for c in starts
    ]
    least = min(fits, key=lambda found: found.cost)
    return BrokenLine(*(float(value) for value in least.x))


def _bounds(commanded: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    flows = np.unique(commanded)
    return np.array([0.3, flows[2], EARLIEST_ONSET, 0.0]), np.array([3.0, flows[-1] * (1 + 1e-6), 1.0, STEEPEST])


def _starts(commanded: np.ndarray, delivered: np.ndarray) -> list[BrokenLine]:
    """The best of a coarse grid, judged by absolute misses, which outliers do not rule."""
    grid = StartGrid.over(commanded)
    return [grid.curves[k] for k in np.argsort(grid.misses(commanded, delivered))[:REFINED]]


@dataclass(frozen=True, eq=False)
class StartGrid:
    """Broken lines of gain 1 to begin fits from, and their `ratios` y / x at the samples, shape (curves, n)."""

    curves: tuple[BrokenLine, ...]
    ratios: np.ndarray
    reference: np.ndarray

    @classmethod
    def over(cls, commanded: np.ndarray) -> StartGrid:
        """The grid for samples at `commanded` flows [mm3/s], shape (n,)."""
        flows = np.unique(commanded)
        turns = [*(0.5 * (flows[2:-1] + flows[3:])), *flows[3:]]
        curves = tuple(BrokenLine(1.0, float(turn), a, k) for turn, a, k in product(turns, TRIED_ONSETS, TRIED_SLOPES))
        ratios = np.array([curve.delivered(commanded) / commanded for curve in curves])
        return cls(curves, ratios, commanded <= flows[2])

    def misses(self, commanded: np.ndarray, delivered: np.ndarray) -> np.ndarray:
        """Sum of the absolute relative misses [-] of every curve, shape (curves,), of flows [mm3/s] of shape (n,)."""
        measured = delivered / commanded
        return np.asarray(np.abs(self.ratios - measured / np.median(measured[self.reference])).sum(axis=1))

    def best(self, commanded: np.ndarray, delivered: np.ndarray) -> BrokenLine:
        """The curve of the grid that comes nearest to flows [mm3/s] of shape (n,)."""
        return self.curves[int(np.argmin(self.misses(commanded, delivered)))]


def _misses(unknowns: np.ndarray, commanded: np.ndarray, delivered: np.ndarray) -> np.ndarray:
    gain, turn, share, slope = unknowns
    onset = share * turn
    return (gain * (np.minimum(commanded, onset) + slope * (np.clip(commanded, onset, turn) - onset)) - delivered) / (
        commanded
    )


def _slopes(unknowns: np.ndarray, commanded: np.ndarray, delivered: np.ndarray) -> np.ndarray:
    """Derivatives of the misses by gain, turn, onset share and slope, shape (n, 4)."""
    gain, turn, share, slope = unknowns
    onset = share * turn
    beyond, plateau = commanded > onset, commanded > turn
    middle = np.clip(commanded, onset, turn) - onset
    by_gain = np.minimum(commanded, onset) + slope * middle
    by_turn = gain * np.where(plateau, share + slope * (1.0 - share), np.where(beyond, share * (1.0 - slope), 0.0))
    by_share = gain * np.where(beyond, turn * (1.0 - slope), 0.0)
    return np.stack([by_gain, by_turn, by_share, gain * middle], axis=1) / commanded[:, None]
