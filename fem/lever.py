"""One input of a problem as a number that can be moved, and the derivative by it of what changes between two problems."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from meltzone.fem.problem import Problem

LeverKind = Literal["design", "data"]

RELATIVE_STEP = 1e-5  # of the value: small enough for a derivative, large enough for its digits


@dataclass(frozen=True, eq=False)
class Lever:
    """One input: its `key` and `words` for people, `unit` of SI, `value`, and a natural `step` [unit].

    `kind` tells what one can build or set ("design") from what one must know ("data"); `at` gives the problem at another
    value. A lever whose unit is '-' and whose key ends in '*' scales a property, its value being 1.
    """

    key: str
    words: str
    unit: str
    value: float
    step: float
    kind: LeverKind
    at: Callable[[float], Problem]


def central_slope(lever: Lever, change: Callable[[Problem, Problem], float]) -> float:
    """Derivative by `lever` of what `change` gives between two problems close by, by a central difference."""
    step = RELATIVE_STEP * (abs(lever.value) or lever.step)
    return change(lever.at(lever.value - step), lever.at(lever.value + step)) / (2.0 * step)
