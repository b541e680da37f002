"""Several starts of a least-squares search: the loss may have more than one local minimum, or be flat where it begins."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from meltzone.cases.statistics.least_squares import FitResult, LeastSquares, around, fit

SCANNED = 9  # values over the whole range where no change near the start moves anything
FLAT = 1e-6  # a change of the loss that tells nothing
ROUNDS = 3


def multistart(problem: LeastSquares, changes: Sequence[Sequence[float]]) -> FitResult:
    """The least loss, begun at the best of a few values of each of the first unknowns, which are moved by their `changes`.

    Where the same look about a local minimum finds less, the search goes on from there. An unknown whose loss falls all the
    way to a limit is put there.
    """
    best: FitResult | None = None
    for _ in range(ROUNDS):
        begun = best_start(problem, changes)
        if best is not None and problem.total(begun.start) > problem.total(best.values) - FLAT:
            break
        best = fit(begun)
        problem = replace(problem, start=best.values)
    assert best is not None
    return _at_limits(problem, best, len(changes))


def best_start(problem: LeastSquares, changes: Sequence[Sequence[float]]) -> LeastSquares:
    """The problem with the best start among its own and those moved by `changes` of one unknown after the other."""
    start = problem.start.copy()
    for place, moves in enumerate(changes):
        near = [start[place] + move for move in moves]
        totals = _totals(problem, start, place, near)
        if max(totals.values()) - min(totals.values()) < FLAT:
            wide = np.linspace(problem.least[place], problem.most[place], SCANNED)
            totals |= _totals(problem, start, place, wide)
        if min(totals.values()) < problem.total(start) - FLAT:
            start[place] = min(totals, key=lambda value: totals[value])
    return replace(problem, start=start)


def _totals(
    problem: LeastSquares, start: np.ndarray, place: int, values: Sequence[float] | np.ndarray
) -> dict[float, float]:
    found = {}
    for value in [start[place], *values]:
        at = start.copy()
        at[place] = np.clip(value, problem.least[place], problem.most[place])
        found[float(at[place])] = problem.total(at)
    return found


def _at_limits(problem: LeastSquares, best: FitResult, count: int) -> FitResult:
    """`best` with those of the first `count` unknowns at a limit where the loss is less still; a search stops short of it.

    Limits beyond an unknown's interval by its variance are not tried.
    """
    values = best.values.copy()
    reach = best.multiple * np.sqrt(np.diag(best.covariance))
    for place in range(count):
        for limit in (problem.least[place], problem.most[place]):
            moved = values.copy()
            moved[place] = limit
            if abs(limit - values[place]) <= reach[place] and problem.total(moved) < problem.total(values):
                values = moved
    return best if np.array_equal(values, best.values) else around(problem, values)
