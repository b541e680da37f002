"""The distribution of a sum of independent effects, each known by what it does at the ends of its plausible range."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

NORMAL_90 = 1.644854  # 90 % of a normal distribution lie within so many standard deviations
COVERED = 0.9  # of the values lie between the ends of a range, as many below as above
ASKED = (
    31  # points at which a sum's distribution is asked for, twice: over six standard deviations, and within one step
)
STEPS, FASTEST = 200, 20.0  # of the Fourier integral, which ends where so many radians fall on one standard deviation


@dataclass(frozen=True)
class Ends:
    """An effect g(z) of a standard normal number z: `low` at its 5 % point, `high` at its 95 % point, 0 at its median.

    Straight on both sides of the median: g = `high` z / 1.645 above it and `low` |z| / 1.645 below. So both halves of a range
    count as much, however far they reach.
    """

    low: float
    high: float

    def __sub__(self, other: Ends) -> Ends:
        """The difference of two effects of the same number."""
        return Ends(self.low - other.low, self.high - other.high)

    def __add__(self, other: Ends) -> Ends:
        """The sum of two effects of the same number."""
        return Ends(self.low + other.low, self.high + other.high)

    @property
    def mean(self) -> float:
        """Mean of the effect."""
        return (self.low + self.high) / (NORMAL_90 * np.sqrt(2.0 * np.pi))

    @property
    def variance(self) -> float:
        """Variance of the effect."""
        return float((self.low**2 + self.high**2) / (2.0 * NORMAL_90**2) - self.mean**2)


NOTHING = Ends(0.0, 0.0)


def shares(effects: Sequence[Ends]) -> list[float]:
    """Share of every effect in the variance of their sum [-]; all 0 where nothing varies."""
    whole = sum(effect.variance for effect in effects)
    return [effect.variance / whole if whole else 0.0 for effect in effects]


def quantiles_of_sum(effects: Sequence[Ends], shares_below: Sequence[float]) -> tuple[float, ...]:
    """The values that the sum of independent `effects` stays below with these probabilities.

    By Gil-Pelaez, F(x) = 1/2 - (1/pi) integral of Im(exp(-i t x) phi(t)) / t dt, where phi is the product of the effects'
    characteristic functions: half a normal distribution has w(s t / sqrt(2)) with Faddeeva's function w and standard
    deviation s. Source: Gil-Pelaez 1951, Biometrika 38:481-482 (from memory); w: Abramowitz and Stegun, 7.1.
    """
    from scipy.special import wofz

    moving = [effect for effect in effects if effect.low or effect.high]
    deviation = float(np.sqrt(sum(effect.variance for effect in moving)))
    if deviation == 0.0:
        return tuple(0.0 for _ in shares_below)
    mean = sum(effect.mean for effect in moving)
    step = FASTEST / STEPS / deviation
    t = step * (np.arange(STEPS) + 0.5)
    even = sum(effect.variance for effect in moving if effect.low == -effect.high)  # these are normal as they stand
    ends = [[effect.low, effect.high] for effect in moving if effect.low != -effect.high]
    phi = np.exp(-0.5 * even * t**2) * np.ones(STEPS, complex)
    for pair in np.array(ends).reshape(-1, 2) / (NORMAL_90 * np.sqrt(2.0)):
        phi *= wofz(np.outer(pair, t)).mean(axis=0)

    def below(x: np.ndarray) -> np.ndarray:
        waves = np.exp(-1j * np.outer(x, t)) * phi
        return np.maximum.accumulate(0.5 - step / np.pi * np.sum(waves.imag / t, axis=1))

    coarse = mean + deviation * np.linspace(-6.0, 6.0, ASKED)
    rough = below(coarse)
    about = [_between(share, rough, coarse) for share in shares_below]
    return tuple(float(np.interp(share, below(fine), fine)) for share, fine in zip(shares_below, about, strict=True))


def _between(share: float, below: np.ndarray, x: np.ndarray) -> np.ndarray:
    """Points within the step of `x` in which `below`, rising, passes `share`."""
    above = min(max(int(np.searchsorted(below, share)), 1), x.size - 1)
    return np.linspace(x[above - 1], x[above], ASKED)


def middle(effects: Sequence[Ends]) -> tuple[float, float]:
    """Between these the sum lies nine times in ten."""
    low, high = quantiles_of_sum(effects, ((1.0 - COVERED) / 2.0, (1.0 + COVERED) / 2.0))
    return low, high
