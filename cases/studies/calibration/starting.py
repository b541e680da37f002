"""Looks about for a better place to search from: the loss may have more than one hollow, or be flat where the search begins."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from meltzone.cases.statistics.least_squares import Answer, Question, answer

SCANNED = 9  # values over the whole range where no change near the start moves anything
FLAT = 1e-6  # a change of the loss that tells nothing
ROUNDS = 3


def sought(question: Question, changes: Sequence[Sequence[float]]) -> Answer:
    """The least loss, begun at the best of a few values of each of the first unknowns, which are moved by their `changes`.

    Where the same look about the answer finds less, the search goes on from there.
    """
    best: Answer | None = None
    for _ in range(ROUNDS):
        begun = started(question, changes)
        if best is not None and question.total(begun.start) > question.total(best.values) - FLAT:
            break
        best = answer(begun)
        question = replace(question, start=best.values)
    assert best is not None
    return best


def started(question: Question, changes: Sequence[Sequence[float]]) -> Question:
    """The question with the best start among its own and those moved by `changes` of one unknown after the other."""
    start = question.start.copy()
    for place, moves in enumerate(changes):
        near = [start[place] + move for move in moves]
        totals = _totals(question, start, place, near)
        if max(totals.values()) - min(totals.values()) < FLAT:
            wide = np.linspace(question.least[place], question.most[place], SCANNED)
            totals |= _totals(question, start, place, wide)
        if min(totals.values()) < question.total(start) - FLAT:
            start[place] = min(totals, key=lambda value: totals[value])
    return replace(question, start=start)


def _totals(
    question: Question, start: np.ndarray, place: int, values: Sequence[float] | np.ndarray
) -> dict[float, float]:
    found = {}
    for value in [start[place], *values]:
        at = start.copy()
        at[place] = np.clip(value, question.least[place], question.most[place])
        found[float(at[place])] = question.total(at)
    return found
