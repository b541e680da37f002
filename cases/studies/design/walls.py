"""What can be built around a point: for each varied key how far it may go, and how that limit moves with the others."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from meltzone.cases.studies.design.point import Unbuildable

HALVINGS = 16
ASIDE = 0.05  # of the bounds: how far another key is moved to see the limit move
INSIDE = 2e-4  # of the bounds: kept clear of a limit, so that no sliver of a part is meshed

Fits = Callable[[np.ndarray], Unbuildable | None]


@dataclass(frozen=True, eq=False)
class Wall:
    """A geometric limit, linear around the point where it was seen: slopes . values <= most [SI].

    `index` is the key that runs into it, `value` [SI] how far that goes with the others as they are, `reason` why.
    """

    index: int
    value: float
    slopes: np.ndarray
    most: float
    reason: str

    def margin(self, values: np.ndarray) -> float:
        """Room left at `values` (n,) [SI], below zero beyond the wall."""
        return self.most - float(self.slopes @ values)


def walls_around(values: np.ndarray, least: np.ndarray, most: np.ndarray, fits: Fits) -> tuple[Wall, ...]:
    """The walls met from `values` (n,) [SI] along each key towards `least` and `most` (n,); `fits` says what cannot be."""
    found = []
    for k in range(len(values)):
        for end in (least[k], most[k]):
            fault = fits(_with(values, k, end))
            if fault is not None:
                found.append(_wall(values, k, end, most - least, fits, fault))
    return tuple(found)


def _wall(values: np.ndarray, k: int, end: float, span: np.ndarray, fits: Fits, fault: Unbuildable) -> Wall:
    """The wall on the way of key k to `end`; the others are moved a little aside to see it move."""
    here = _farthest(values, k, end, fits)
    slopes = np.zeros(len(values))
    for j in range(len(values)):
        if j != k:
            slopes[j] = next(
                (
                    (_farthest(aside, k, end, fits) - here) / (aside[j] - values[j])
                    for step in (ASIDE * span[j], -ASIDE * span[j])
                    if fits(aside := _with(values, j, values[j] + step)) is None
                ),
                0.0,
            )
    outwards = 1.0 if end > values[k] else -1.0
    row = -outwards * slopes
    row[k] = outwards
    reach = outwards * here + float(-outwards * slopes @ values) - INSIDE * span[k]
    return Wall(k, here, row, max(reach, float(row @ values)), fault.reason)


def _with(values: np.ndarray, k: int, value: float) -> np.ndarray:
    changed = values.copy()
    changed[k] = value
    return changed


def _farthest(values: np.ndarray, k: int, end: float, fits: Fits) -> float:
    """The last value of key k on the way to `end` that can be built, by halving."""
    if fits(_with(values, k, end)) is None:
        return end
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        if fits(_with(values, k, values[k] + middle * (end - values[k]))) is None:
            low = middle
        else:
            high = middle
    return float(values[k] + low * (end - values[k]))
