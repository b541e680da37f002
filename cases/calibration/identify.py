"""Which numbers the data tell and which they do not: blindness, strong correlation, and the combination that is known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from meltzone.cases.validation.free_number import FreeNumber

TANGLED = 0.95  # a correlation beyond this is no telling apart
BLIND = 0.05  # standard deviations by which a natural change moves all data together
NATURAL_KELVIN = 10.0  # a natural change of a temperature; of anything else a factor of e
SHARE = 0.2  # of a weak direction: a number with less has no part in it
SHOWN_PERCENT = 10.0


@dataclass(frozen=True)
class Tangle:
    """Numbers, by `keys`, that the data cannot tell apart: their `correlation` [-], how they trade, in words, and `advice`."""

    keys: tuple[str, ...]
    correlation: float
    trade: str
    advice: tuple[str, ...] = ()

    @property
    def statement(self) -> str:
        """It in a sentence or two."""
        names = " and ".join([", ".join(self.keys[:-1]), self.keys[-1]])
        return (
            f"The data cannot tell {names} apart (correlation {self.correlation:+.3f}): they only fix a combination. "
            f"{self.trade} Give one of them, or measure so that they part."
        )


def natural(free: FreeNumber) -> float:
    """A natural change of the number in its coordinate."""
    return NATURAL_KELVIN if free.is_temperature else 1.0


def blind_to(slopes: np.ndarray, free: FreeNumber) -> bool:
    """Whether the data do not answer to a number at its value: `slopes` (m,) of the whitened residuals by its coordinate."""
    return float(np.linalg.norm(slopes)) * natural(free) < BLIND


def tangles_of(free: Sequence[FreeNumber], covariance: np.ndarray, unbounded: Sequence[bool]) -> tuple[Tangle, ...]:
    """What cannot be told apart, by the `covariance` (k, k) of the coordinates and whether intervals are `unbounded`.

    Pairs whose correlation is beyond TANGLED. Where intervals have no end but no pair explains it, all numbers that share the
    weakest direction.
    """
    found = []
    for one, other in combinations(range(len(free)), 2):
        pair = covariance[np.ix_([one, other], [one, other])]
        correlation = float(pair[0, 1] / np.sqrt(pair[0, 0] * pair[1, 1]))
        if abs(correlation) > TANGLED:
            found.append(Tangle((free[one].key, free[other].key), correlation, _trade([free[one], free[other]], pair)))
    named = {key for tangle in found for key in tangle.keys}
    loose = [place for place, each in enumerate(free) if unbounded[place] and each.key not in named]
    if loose and len(free) > 1:
        group = _weakest(free, covariance)
        if len(group) > 1 and any(place in group for place in loose):
            worst = float(max(abs(_correlation(covariance, a, b)) for a, b in combinations(group, 2)))
            inside = covariance[np.ix_(group, group)]
            members = [free[place] for place in group]
            found.append(Tangle(tuple(each.key for each in members), worst, _trade(members, inside)))
    return tuple(found)


def _correlation(covariance: np.ndarray, one: int, other: int) -> float:
    return float(covariance[one, other] / np.sqrt(covariance[one, one] * covariance[other, other]))


def _weakest(free: Sequence[FreeNumber], covariance: np.ndarray) -> list[int]:
    """The numbers with a part in the direction that the data know least, in natural changes."""
    scale = np.array([natural(each) for each in free])
    _, vectors = np.linalg.eigh(covariance / np.outer(scale, scale))
    return [place for place, part in enumerate(np.abs(vectors[:, -1])) if part > SHARE]


def _trade(free: Sequence[FreeNumber], covariance: np.ndarray) -> str:
    """The weak direction in words: what change of each leaves the fit as it is."""
    scale = np.array([natural(each) for each in free])
    _, vectors = np.linalg.eigh(covariance / np.outer(scale, scale))
    direction = vectors[:, -1] * scale
    first = free[0]
    unit = 1.0 if first.is_temperature else float(np.log1p(SHOWN_PERCENT / 100.0))
    direction = direction / direction[0] * unit
    changes = [_change(each, float(part)) for each, part in zip(free, direction, strict=True)]
    others = " and ".join(f"{each.key} {change}" for each, change in zip(free[1:], changes[1:], strict=True))
    return f"About the values found, {first.key} {changes[0]} with {others} fits as well."


def _change(free: FreeNumber, part: float) -> str:
    return f"{part:+.2g} K" if free.is_temperature else f"{100.0 * float(np.expm1(part)):+.2g} %"
