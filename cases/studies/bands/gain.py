"""The band of a gain: what two cases share cancels, whoever stated its tolerance where; ties are called ties."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from meltzone.cases.statistics.independent import NOTHING, Ends, middle
from meltzone.cases.studies.bands.band import Band
from meltzone.cases.studies.bands.effects import Effect
from meltzone.cases.studies.bands.model_error import MODEL, of_gain

MEASURABLE = 0.02  # of a ceiling: weighing tells no less; common practice, no source
NARROW = 0.1  # of a ceiling: a band of a gain that reaches no farther to either side is narrow
Judgement = Literal["more", "less", "tie", "open"]


@dataclass(frozen=True)
class GainBand:
    """A gain on another ceiling: its `value` and `low` and `high`, between which it lies nine times in ten [%].

    `parts` are what does not cancel, by identity, as ends of the logarithm of the ratio.
    """

    value: float
    low: float
    high: float
    parts: tuple[tuple[str, Ends], ...]

    @property
    def judged(self) -> Judgement:
        """Whether it is "more" or "less", a "tie", or "open" since the band reaches to both sides of zero, and far."""
        if abs(self.value) < 100.0 * MEASURABLE:
            return "tie"
        if self.low <= 0.0 <= self.high:
            return "tie" if max(-self.low, self.high) <= 100.0 * NARROW else "open"
        return "more" if self.value > 0.0 else "less"


def gain_band(band: Band | None, first: Band | None) -> GainBand | None:
    """The band of the gain of a ceiling on the `first`; None where either has no band."""
    if band is None or first is None:
        return None
    log_gain = math.log(band.value / first.value)
    parts = difference(band.effects, first.effects)
    if log_gain or parts:
        parts = (*parts, (MODEL, of_gain(log_gain)))
    low, high = middle([ends for _, ends in parts])
    value, least, most = (100.0 * math.expm1(log_gain + end) for end in (0.0, low, high))
    return GainBand(value, least, most, parts)


def difference(effects: tuple[Effect, ...], others: tuple[Effect, ...]) -> tuple[tuple[str, Ends], ...]:
    """What is left of both, by identity: one number moves both ceilings alike.

    Where only one of the cases states how well the number is known, that holds for both: it is one number.
    """
    own, other = (
        {effect.identity: effect for effect in each if effect.identity != MODEL} for each in (effects, others)
    )
    found = {}
    for identity in own | other:
        one, two = own.get(identity), other.get(identity)
        if one is None or two is None:
            left = one.ends if one is not None else NOTHING - two.ends if two is not None else NOTHING
        else:
            left = _shared(one, two)
        if left != NOTHING:
            found[identity] = left
    return tuple(found.items())


def _shared(one: Effect, two: Effect) -> Ends:
    if one.stated and not two.stated:
        return one.ends - two.over(one.reach)
    if two.stated and not one.stated:
        return one.over(two.reach) - two.ends
    return one.ends - two.ends


def tie(one: Band | None, two: Band | None) -> bool:
    """Whether no difference of the two ceilings could be told by measuring."""
    found = gain_band(one, two)
    return found is not None and found.judged == "tie"
