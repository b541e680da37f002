"""Fits of many broken lines side by side: steps of Levenberg and Marquardt, where one by one takes too long."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from meltzone.cases.statistics.broken_line import BrokenLine, bounds, misses_and_slopes, scales

MOST_STEPS = 40
CLOSE = 1e-7  # a change of the loss or of the unknowns, relative, that ends a fit
FIRST_DAMPING, LESS, MORE, STUCK = 1e-3, 0.2, 5.0, 1e4


def side_by_side(
    commanded: np.ndarray, delivered: np.ndarray, scatter: float, starts: Sequence[Sequence[BrokenLine]]
) -> list[BrokenLine]:
    """As `one_by_one`, of flows [mm3/s] of shape (n,) and (b, n): the same loss and bounds, at a fiftieth of the time.

    Where the loss has several minima close together the two may end in different ones.
    """
    tried = np.array([[(c.gain, c.turn, c.onset_share, c.slope) for c in own] for own in starts])
    series, each = tried.shape[:2]
    unknowns, losses = _searched(commanded, np.repeat(delivered, each, axis=0), scatter, tried.reshape(-1, 4))
    best = losses.reshape(series, each).argmin(axis=1)
    return [BrokenLine(*map(float, found[k])) for found, k in zip(unknowns.reshape(tried.shape), best, strict=True)]


def _searched(
    commanded: np.ndarray, delivered: np.ndarray, scatter: float, starts: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Unknowns (b, 4) and losses (b,) at the end of the searches begun at `starts`, (b, 4)."""
    low, high = bounds(commanded)
    at = np.clip(starts, low + 1e-9, high - 1e-9)
    misses, slopes = misses_and_slopes(at, commanded, delivered)
    loss, damping = _loss(misses / scatter), np.full(len(at), FIRST_DAMPING)
    live, found, losses = np.arange(len(at)), at.copy(), loss.copy()
    for _ in range(MOST_STEPS):
        moved = np.clip(at - _step(at, misses, slopes, scatter, damping, commanded), low, high)
        after, steeper = misses_and_slopes(moved, commanded, delivered[live])
        less = _loss(after / scatter)
        better, change = less < loss, np.max(np.abs(moved - at) / scales(commanded), axis=1)
        done = (better & (loss - less < CLOSE * loss)) | (change < CLOSE) | (~better & (damping > STUCK))
        at, loss = np.where(better[:, None], moved, at), np.where(better, less, loss)
        misses = np.where(better[:, None], after, misses)
        slopes = np.where(better[:, None, None], steeper, slopes)
        found[live], losses[live] = at, loss
        going = ~done
        at, loss, misses, slopes, live = at[going], loss[going], misses[going], slopes[going], live[going]
        damping = np.where(better, LESS, MORE)[going] * damping[going]
        if not live.size:
            break
    return found, losses


def _step(
    at: np.ndarray, misses: np.ndarray, slopes: np.ndarray, scatter: float, damping: np.ndarray, commanded: np.ndarray
) -> np.ndarray:
    """Damped steps of reweighted least squares, shape (b, 4); an unknown that is pressed against its bound keeps its value."""
    low, high = bounds(commanded)
    weights = 1.0 / np.sqrt(1.0 + np.square(misses / scatter))
    scaled = slopes * scales(commanded)
    towards = np.einsum("bni,bn->bi", scaled, weights * misses)
    free = ~(((at <= low) & (towards > 0.0)) | ((at >= high) & (towards < 0.0))) * 1.0
    curvature = np.einsum("bni,bn,bnj->bij", scaled, weights, scaled) * free[:, :, None] * free[:, None, :]
    diagonal = np.einsum("bii->bi", curvature)
    curvature = curvature + (damping[:, None] * (diagonal + 1e-9) + (1.0 - free))[:, :, None] * np.eye(4)
    return np.asarray(np.linalg.solve(curvature, (free * towards)[:, :, None])[:, :, 0] * scales(commanded))


def _loss(scores: np.ndarray) -> np.ndarray:
    """Half the soft loss of `fit` over every row of `scores`, (b, n), which are misses over the scatter."""
    return np.asarray(np.sum(np.sqrt(1.0 + np.square(scores)) - 1.0, axis=1))
