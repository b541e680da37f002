"""What is taken for a property that was not measured: the middle of a class of the shipped polymers, with its whole spread."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from meltzone.materials.curves import Curve
from meltzone.materials.library import names, polymer
from meltzone.materials.polymer import Polymer
from meltzone.materials.viscosity import CrossWLF, Viscosity

CLASSES = ("amorphous", "semi-crystalline")
# Where properties of a class are compared, from the softening or melting temperature [K]
ABOUT = {
    "amorphous": (-80.0, -10.0, 12.0, 60.0, 100.0, 180.0),
    "semi-crystalline": (-130.0, -60.0, -20.0, 20.0, 60.0, 100.0),
}


@dataclass(frozen=True)
class Typical:
    """A number of a class: its `middle` and the `low` and `high` end of the shipped cards [SI], and `said`, its source."""

    middle: float
    low: float
    high: float
    said: str


def members(kind: str) -> list[Polymer]:
    """The shipped polymers of the class `kind`."""
    found = [polymer(name) for name in names("polymer")]
    return [each for each in found if (each.melting_enthalpy > 0.0) == (kind == "semi-crystalline")]


def reference_of(card: Polymer) -> float:
    """The temperature from which curves of its class are counted [K]: of softening, or of melting where there is that."""
    return card.melting_peak if card.melting_enthalpy > 0.0 else card.softening_temperature


def number(kind: str, read: Callable[[Polymer], float | None]) -> Typical | None:
    """What `read` finds on the cards of a class; None where no card has it."""
    values = [value for card in members(kind) if (value := read(card)) is not None]
    if not values:
        return None
    low, high = _spread(kind, min(values), max(values))
    return Typical(float(np.median(values)), low, high, f"{_words(kind, len(values))}")


def curve(kind: str, name: str, reference: float) -> tuple[np.ndarray, np.ndarray, float, float, str]:
    """Temperatures [K] and values of a property for a polymer that softens or melts at `reference` [K], and its spread.

    The spread is the least and the greatest share [-] of the middle that any shipped card has anywhere.
    """
    offsets = np.array(ABOUT[kind])
    cards = members(kind)
    found = np.array([_along(getattr(card, name), reference_of(card) + offsets) for card in cards])
    middle = np.median(found, axis=0)
    low, high = _spread(kind, float((found / middle).min()), float((found / middle).max()))
    return reference + offsets, middle, low, high, _words(kind, len(cards))


def viscosity(kind: str, softens: float) -> tuple[Viscosity, tuple[float, float], str] | None:
    """The middle one of a class's viscosities 100 K above softening, for a polymer that `softens` there [K], and its spread."""
    laws = [(card, card.viscosity) for card in members(kind) if isinstance(card.viscosity, CrossWLF)]
    if not laws:
        return None
    at = [float(law.zero_shear(card.softening_temperature + 100.0)) for card, law in laws]
    chosen = int(np.argsort(at)[len(at) // 2])
    card, law = laws[chosen]
    moved = replace(law, D2=law.D2 + softens - card.softening_temperature)
    stated = [card.ranges.get("viscosity", (1.0, 1.0)) for card, _ in laws]
    low = min(value * low for value, (low, _) in zip(at, stated, strict=True)) / at[chosen]
    high = max(value * high for value, (_, high) in zip(at, stated, strict=True)) / at[chosen]
    return moved, (low, high), f"{_words(kind, len(laws))}, 100 K above softening"


def _along(curve: Curve, temperatures: Sequence[float] | np.ndarray) -> np.ndarray:
    return np.asarray(curve(np.asarray(temperatures)))


def _spread(kind: str, low: float, high: float) -> tuple[float, float]:
    """The ends; where all cards agree, a tenth to either side, assumed: they were written from like sources."""
    return (low, high) if high > low * 1.02 else (low * 0.9, high * 1.1)


def _words(kind: str, count: int) -> str:
    return f"not measured, assumed: the middle of the {count} shipped {kind} polymers, range as theirs"
