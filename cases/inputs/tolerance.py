"""A number with its tolerance as people write it, "210 +/- 3 degC" or "4000 W/m^2/K +/- 30 %", to SI, and back."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from meltzone.materials.units import TEMPERATURE_DIFFERENCE, Kind, UnitError, parse, show

_MARK = re.compile(r"\s*(?:\+\s*/\s*-|\+-|±)\s*")
_PLAIN = re.compile(r"((?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*)", re.DOTALL)
_SIGNED = re.compile(r"\s*[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?\s*")
LARGEST_PERCENT = 100.0
LONGEST = 60  # characters of either half


@dataclass(frozen=True)
class Toleranced:
    """A `value` [SI] with its `tolerance`, one standard deviation [SI]; 0 where none is stated."""

    value: float
    tolerance: float = 0.0


def parse_toleranced(written: object, kind: Kind) -> Toleranced:
    """The SI value and tolerance of a text such as "0.195 +/- 0.02 W/m/K"; raises UnitError.

    The unit may stand once, at the end, or on either side; a tolerance in percent counts of the value, and that of a
    temperature is a difference, whether written in K or in degC.
    """
    if not isinstance(written, str) or not _MARK.search(written):
        return Toleranced(parse(written, kind))
    before, *rest = _MARK.split(written)
    found = _PLAIN.fullmatch(rest[0].strip()) if len(rest) == 1 and len(written) <= 2 * LONGEST else None
    if found is None:
        raise UnitError(phrase(kind), "A tolerance is one plain number above zero after +/- or ±.")
    digits, unit = found.groups()
    if unit == "%":
        return _relative(before, digits, kind)
    own_unit = _SIGNED.sub("", before, count=1) if _SIGNED.match(before) else ""
    value = parse(before if own_unit else f"{before} {unit}", kind)
    return Toleranced(value, _difference(digits, unit or own_unit, kind))


def has_tolerance(written: str) -> bool:
    """Whether a text states a tolerance."""
    return _MARK.search(written) is not None


def parse_percent(written: object) -> float:
    """The share [-] of a text such as "10 %"; raises UnitError."""
    found = _PLAIN.fullmatch(written.strip()) if isinstance(written, str) and len(written) <= LONGEST else None
    if found is None or found.group(2) != "%":
        raise UnitError('a percentage, as in "10 %"', "Properties over temperature are scaled as a whole.")
    return _share(found.group(1))


def phrase(kind: Kind) -> str:
    """What is expected of a value with a tolerance."""
    if not kind.unit:
        return f'{kind.name} {kind.limits}, with a tolerance as in "{kind.example} +/- 0.05"'
    unit = "3 K" if kind.is_temperature else "10 %"
    return f'{kind.name} with its unit and tolerance, as in "{kind.example} +/- {unit}"'


def show_toleranced(value: float, tolerance: float, kind: Kind) -> str:
    """Value and tolerance [SI] as a case file may hold them."""
    if not tolerance:
        return show(value, kind)
    return f"{show(value, kind)} +/- {show(tolerance, TEMPERATURE_DIFFERENCE if kind.is_temperature else kind)}"


def _relative(before: str, digits: str, kind: Kind) -> Toleranced:
    if kind.is_temperature:
        raise UnitError(phrase(kind), "A share of a temperature depends on where its scale begins: write it in K.")
    value = parse(before, kind)
    return Toleranced(value, abs(value) * _share(digits))


def _share(digits: str) -> float:
    percent = float(digits)
    if not 0.0 < percent <= LARGEST_PERCENT:
        raise UnitError(f"a percentage above 0 and up to {LARGEST_PERCENT:g} %", "It is one standard deviation.")
    return percent / 100.0


def _difference(digits: str, unit: str, kind: Kind) -> float:
    """The tolerance [SI], as the difference of two values, so that a zero of the scale does not count."""
    free = kind.within(-math.inf, math.inf)
    if kind.is_temperature and "delta" in unit:
        found = parse(f"{digits} {unit}", TEMPERATURE_DIFFERENCE)
    else:
        found = parse(f"{digits} {unit}", free) - parse(f"0 {unit}", free)
    if not (math.isfinite(found) and found > 0.0):
        raise UnitError(phrase(kind), "A tolerance is a number above zero.")
    return found
