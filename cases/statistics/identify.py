"""Which numbers the data tell and which they do not: blindness, strong correlation, and the combination that is known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from meltzone.cases.inputs.parameters import Parameter

TANGLED = 0.95  # a correlation beyond this is no telling apart
BLIND = 0.05  # standard deviations by which a natural change moves all data together
NATURAL_KELVIN = 10.0  # a natural change of a temperature; of anything else a factor of e
SHARE = 0.2  # of a weak direction: a number with less has no part in it
SHOWN_PERCENT = 10.0


@dataclass(frozen=True)
class Tangle:
    """Numbers, by `keys`, that the data cannot tell apart: their `correlation` [-], how they trade, in words, and `advice`.

    `bounded` tells whether each has an interval with two ends all the same.
    """

    keys: tuple[str, ...]
    correlation: float
    trade: str
    bounded: bool
    advice: tuple[str, ...] = ()

    @property
    def statement(self) -> str:
        """It in a sentence or two."""
        names = " and ".join([", ".join(self.keys[:-1]), self.keys[-1]])
        fixed = "fix a combination far better than either" if self.bounded else "only fix a combination"
        return (
            f"The data cannot tell {names} apart (correlation {self.correlation:+.3f}): they {fixed}. "
            f"{self.trade} Give one of them, or measure so that they part."
        )


def natural(free: Parameter) -> float:
    """A natural change of the number in its coordinate."""
    return NATURAL_KELVIN if free.is_temperature else 1.0


def blind_to(slopes: np.ndarray, free: Parameter) -> bool:
    """Whether the data do not answer to a number at its value: `slopes` of the whitened residuals by it, shape (m,)."""
    return float(np.linalg.norm(slopes)) * natural(free) < BLIND


def tangles_of(free: Sequence[Parameter], covariance: np.ndarray, bounded: Sequence[bool]) -> tuple[Tangle, ...]:
    """What cannot be told apart, by the `covariance` of the coordinates, shape (k, k); `bounded`: whose interval has two ends.

    Pairs whose correlation is beyond TANGLED; where no pair is but a number's multiple correlation with all others
    together, the numbers that share the weakest direction.
    """
    scale = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(scale, scale)
    groups = [
        [one, other] for one, other in combinations(range(len(free)), 2) if abs(correlation[one, other]) > TANGLED
    ]
    if not groups and len(free) > 2:
        together = np.sqrt(1.0 - 1.0 / np.diag(np.linalg.inv(correlation)))
        groups = [_weakest(free, covariance)] if together.max() > TANGLED else []
    found = []
    for group in groups:
        members, inside = [free[place] for place in group], np.ix_(group, group)
        worst = max((correlation[a, b] for a, b in combinations(group, 2)), key=abs)
        ends = all(bounded[place] for place in group)
        trade = _trade(members, covariance[inside])
        found.append(Tangle(tuple(each.key for each in members), float(worst), trade, ends))
    return tuple(found)


def _weakest(free: Sequence[Parameter], covariance: np.ndarray) -> list[int]:
    """The numbers with a part in the direction that the data know least, in natural changes."""
    scale = np.array([natural(each) for each in free])
    _, vectors = np.linalg.eigh(covariance / np.outer(scale, scale))
    return [place for place, part in enumerate(np.abs(vectors[:, -1])) if part > SHARE]


def _trade(free: Sequence[Parameter], covariance: np.ndarray) -> str:
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


def _change(free: Parameter, part: float) -> str:
    return f"{part:+.2g} K" if free.is_temperature else f"{100.0 * float(np.expm1(part)):+.2g} %"
