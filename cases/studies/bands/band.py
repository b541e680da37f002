"""The band of a ceiling: between which flows it lies nine times in ten, what makes it wide, what narrowed it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from meltzone.cases.inputs.reader import Case
from meltzone.cases.statistics.independent import Ends, middle, shares
from meltzone.cases.studies.bands.effects import Effect, effects_of
from meltzone.cases.studies.bands.model_error import of_ceiling
from meltzone.fem.ceiling import Ceilings

CUBIC_MM = 1e9
NAMED = 3  # of what makes a band wide


@dataclass(frozen=True)
class Contributor:
    """What makes a band wide: what it is called, its range in `words`, how that is `known`, its `share` of the variance [-]."""

    noun: str
    words: str
    known: str
    share: float


@dataclass(frozen=True)
class Band:
    """A ceiling's `value` and `low` and `high`, between which it lies nine times in ten [mm3/s], with all `effects`.

    `by_inputs` is the band of what is not known of the inputs alone, without the model's own error [mm3/s].
    """

    value: float
    low: float
    high: float
    by_inputs: tuple[float, float]
    effects: tuple[Effect, ...]

    @property
    def bounds(self) -> tuple[float, float]:
        """Both ends [mm3/s]."""
        return self.low, self.high

    @property
    def contributors(self) -> tuple[Contributor, ...]:
        """What makes it wide, the greatest share first."""
        parts = shares([effect.ends for effect in self.effects])
        found = [Contributor(e.noun, e.words, e.known, share) for e, share in zip(self.effects, parts, strict=True)]
        return tuple(sorted(found, key=lambda each: -each.share))

    @property
    def widest(self) -> tuple[Contributor, ...]:
        """The three that make it widest."""
        return self.contributors[:NAMED]

    @property
    def stated(self) -> tuple[Effect, ...]:
        """The effects whose range the case states, as a tolerance of its own or of a calibration."""
        return tuple(effect for effect in self.effects if effect.stated)

    @property
    def narrowed(self) -> float | None:
        """By how much what the case states narrows the band [%], widens it where below zero; None where it states nothing."""
        if not self.stated:
            return None
        low, high = middle([effect.plain or effect.ends for effect in self.effects])
        plain = math.exp(high) - math.exp(low)
        return 100.0 * (1.0 - (self.high - self.low) / (self.value * plain))


def band_of(case: Case, found: Ceilings) -> Band | None:
    """The band of the governing ceiling; None where there is none. Raises CaseError for tolerances that cannot be."""
    inputs = effects_of(case, found)
    if not inputs:
        return None
    value = CUBIC_MM * found.flow
    return banded(value, inputs, of_ceiling(found.problem))


def banded(value: float, inputs: tuple[Effect, ...], model: tuple[Effect, ...]) -> Band:
    """The band around `value` [mm3/s] by the effects of the `inputs` and of the `model` itself."""
    every = (*inputs, *model)
    low, high = (value * math.exp(end) for end in middle(_ends(every)))
    alone = middle(_ends(inputs))
    return Band(value, low, high, (value * math.exp(alone[0]), value * math.exp(alone[1])), every)


def _ends(effects: tuple[Effect, ...]) -> list[Ends]:
    return [effect.ends for effect in effects]
