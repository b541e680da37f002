"""Delivered over commanded flow as a broken line: a reference line, a slope of under-delivery, a plateau; its robust fit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy.optimize import least_squares

from meltzone.cases.statistics.robust import scatter_of

UNKNOWNS = 4
REFERENCE_FLOWS = 3  # the lowest: they count as lying on the reference line
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


def refined(commanded: np.ndarray, delivered: np.ndarray, scatter: float, starts: list[BrokenLine]) -> BrokenLine:
    """Of the fits begun at `starts` that with the least loss; flows [mm3/s] of shape (n,), `scatter` [-]."""
    low, high = bounds(commanded)
    fits = [
        least_squares(
            lambda unknowns: misses_and_slopes(unknowns[None], commanded, delivered)[0][0],
            np.clip([c.gain, c.turn, c.onset_share, c.slope], low + 1e-9, high - 1e-9),
            lambda unknowns: misses_and_slopes(unknowns[None], commanded, delivered)[1][0],
            bounds=(low, high),
            loss="soft_l1",
            f_scale=scatter,
            x_scale=scales(commanded),
            xtol=1e-7,
            ftol=1e-7,
            max_nfev=60,
        )
        for c in starts
    ]
    least = min(fits, key=lambda found: found.cost)
    return BrokenLine(*(float(value) for value in least.x))


def bounds(commanded: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Least and greatest gain, turn, onset share and slope, each of shape (4,), for samples at `commanded` flows [mm3/s]."""
    flows = np.unique(commanded)
    return np.array([0.3, flows[2], EARLIEST_ONSET, 0.0]), np.array([3.0, flows[-1] * (1 + 1e-6), 1.0, STEEPEST])


def scales(commanded: np.ndarray) -> np.ndarray:
    """Natural changes of gain, turn, onset share and slope, shape (4,), for samples at `commanded` flows [mm3/s]."""
    return np.array([0.1, float(commanded.max()), 0.3, 0.3])


def misses_and_slopes(
    unknowns: np.ndarray, commanded: np.ndarray, delivered: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Fitted less delivered over commanded flow [-], (b, n), and its derivatives by the unknowns, (b, n, 4), of many lines.

    `unknowns`, shape (b, 4), are gain, turn, onset share and slope; flows [mm3/s] are `commanded`, (n,), `delivered`, (b, n).
    """
    gain, turn, share, slope = unknowns.T[:, :, None]
    onset = share * turn
    beyond, plateau = commanded > onset, commanded > turn
    middle = np.minimum(np.maximum(commanded, onset), turn) - onset
    by_gain = np.minimum(commanded, onset) + slope * middle
    by_turn = gain * np.where(plateau, share + slope * (1.0 - share), np.where(beyond, share * (1.0 - slope), 0.0))
    by_share = gain * np.where(beyond, turn * (1.0 - slope), 0.0)
    slopes = np.stack([by_gain, by_turn, by_share, gain * middle], axis=2) / commanded[:, None]
    return (gain * by_gain - delivered) / commanded, slopes


def one_by_one(
    commanded: np.ndarray, delivered: np.ndarray, scatter: float, starts: Sequence[Sequence[BrokenLine]]
) -> list[BrokenLine]:
    """Of every series of `delivered` flows, (b, n), the fit with the least loss of those begun at its `starts`.

    All at the `commanded` flows, (n,), in mm3/s; `scatter` [-] is that of the misses.
    """
    return [
        refined(commanded, row, scatter, list(own_starts)) for row, own_starts in zip(delivered, starts, strict=True)
    ]


Refine = Callable[[np.ndarray, np.ndarray, float, Sequence[Sequence[BrokenLine]]], list[BrokenLine]]


def fit(commanded: np.ndarray, delivered: np.ndarray, least_scatter: float, refine: Refine = one_by_one) -> FittedLine:
    """The broken line through samples of `commanded` and `delivered` flow [mm3/s], shape (n,).

    Least squares of the misses over the commanded flow, each weighed by the loss 2 (sqrt(1 + z^2) - 1), z the miss over the
    scatter, which grows no faster than |z| for outliers (soft l1; Huber (1964) gives the reason). The scatter is the median
    absolute deviation of the misses, not below `least_scatter` [-], found in a few rounds.
    """
    starts = _starts(commanded, delivered)
    scatter = max(least_scatter, 0.01)
    best = starts[0]

    def nearest(tried: list[BrokenLine]) -> BrokenLine:
        return refine(commanded, delivered[None], scatter, [tried])[0]

    for turn in range(ROUNDS):
        best = nearest(starts if turn == 0 else [best])
        misses = relative_misses(best, commanded, delivered)
        scatter = max(least_scatter, scatter_of(misses))
    return FittedLine(nearest([best, *starts]), scatter)


def relative_misses(curve: BrokenLine, commanded: np.ndarray, delivered: np.ndarray) -> np.ndarray:
    """Delivered less fitted over commanded flow [-], shape (n,), of flows [mm3/s]."""
    return np.asarray((delivered - curve.delivered(commanded)) / commanded)


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
        return cls(curves, ratios, commanded <= flows[REFERENCE_FLOWS - 1])

    def misses(self, commanded: np.ndarray, delivered: np.ndarray) -> np.ndarray:
        """Sum of the absolute relative misses [-] of every curve, shape (curves,), of flows [mm3/s] of shape (n,)."""
        measured = delivered / commanded
        return np.asarray(np.abs(self.ratios - measured / np.median(measured[self.reference])).sum(axis=1))

    def best(self, commanded: np.ndarray, delivered: np.ndarray) -> BrokenLine:
        """The curve of the grid that comes nearest to flows [mm3/s] of shape (n,)."""
        return self.curves[int(np.argmin(self.misses(commanded, delivered)))]
