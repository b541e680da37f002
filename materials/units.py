"""Numbers with units as people write them ("12.5 mm", "210 degC") to SI floats, and back."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import lru_cache
from types import MappingProxyType
from typing import Any

HUGE = 1e15  # nothing about a hot end comes near; larger numbers are slips
LONGEST = 60  # characters; a value with its unit is shorter by far
ZERO_CELSIUS = Decimal("273.15")

_NUMBER = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*", re.DOTALL)
# What may reach pint: names joined by * / and blanks, with one-digit powers. Anything else could make its parser
# evaluate towers of powers.
_FACTOR = r"\(*\s*(?:[A-Za-z_]+|1)(?:\^-?\d)?\s*\)*"
_UNIT = re.compile(rf"{_FACTOR}(?:\s*[*/ ]\s*{_FACTOR})*")
_SPELLINGS = (
    ("³", "^3"), ("²", "^2"), ("·", "*"), ("µ", "u"), ("μ", "u"),
    ("°C", "degC"), ("℃", "degC"), ("°F", "degF"), ("°", "deg"), ("**", "^"),
)  # fmt: skip


class UnitError(ValueError):
    """A value that is no number with a fitting unit; `expected` and `hint` are phrases for the person who wrote it."""

    def __init__(self, expected: str, hint: str) -> None:
        super().__init__(f"expected {expected}. {hint}")
        self.expected = expected
        self.hint = hint


@dataclass(frozen=True)
class Kind:
    """A kind of quantity: what it is called, its SI `unit` as pint spells it, the unit it is `shown` in, an example.

    `factors` holds the usual spellings with their factor to SI; any other unit goes to pint.
    """

    name: str
    unit: str
    shown: str
    example: str
    factors: Mapping[str, Decimal] = field(hash=False)

    @property
    def phrase(self) -> str:
        """What is expected of a value, with an example."""
        return f'{self.name} with its unit, as in "{self.example}"'


def _factors(**spellings: str) -> Mapping[str, Decimal]:
    return MappingProxyType({unit: Decimal(factor) for unit, factor in spellings.items()})


def _spelled(factors: Mapping[str, str]) -> Mapping[str, Decimal]:
    return _factors(**factors)


LENGTH = Kind("a length", "m", "mm", "12.5 mm", _factors(m="1", cm="0.01", mm="0.001", um="0.000001"))
TEMPERATURE = Kind("a temperature", "kelvin", "degC", "210 degC", _factors(K="1", degC="1", kelvin="1", celsius="1"))
TEMPERATURE_DIFFERENCE = Kind(
    "a temperature difference", "kelvin", "K", "10 K", _factors(K="1", kelvin="1", delta_degC="1")
)
POWER = Kind("a power", "watt", "W", "40 W", _factors(W="1", kW="1000", mW="0.001", watt="1"))
FORCE = Kind("a force", "newton", "N", "60 N", _factors(N="1", newton="1", kgf="9.80665"))
SPEED = Kind("a speed", "m/s", "m/s", "5 m/s", _spelled({"m/s": "1", "mm/s": "0.001", "cm/s": "0.01"}))
ANGLE = Kind("an angle", "rad", "deg", "60 deg", _factors(rad="1", radian="1"))
TIME = Kind("a time", "s", "s", "30 s", _factors(s="1", min="60", h="3600", ms="0.001"))
MASS = Kind("a mass", "kg", "g", "1.25 g", _factors(kg="1", g="0.001", mg="0.000001"))
FLOW = Kind(
    "a volume flow",
    "m**3/s",
    "mm^3/s",
    "12 mm^3/s",
    _spelled({"mm^3/s": "1e-9", "mm3/s": "1e-9", "m^3/s": "1", "m3/s": "1"}),
)
CONDUCTIVITY = Kind(
    "a thermal conductivity",
    "W/m/K",
    "W/m/K",
    "0.195 W/m/K",
    _spelled({"W/m/K": "1", "W/(m*K)": "1", "W/(m K)": "1", "mW/m/K": "0.001"}),
)
_PER_AREA = _spelled({"W/m^2/K": "1", "W/m2/K": "1", "W/(m^2*K)": "1", "W/(m^2 K)": "1", "kW/m^2/K": "1000"})
FILM = Kind("a film coefficient", "W/m**2/K", "W/m^2/K", "25 W/m^2/K", _PER_AREA)
CONDUCTANCE = Kind("a contact conductance", "W/m**2/K", "W/m^2/K", "3200 W/m^2/K", _PER_AREA)

_DEGREES = ("deg", "degree", "degrees")


def parse(value: object, kind: Kind) -> float:
    """The SI value of `value`, a string such as "12.5 mm".

    Decimal factors keep the result equal to the literal of the same digits: "1.75 mm" is 1.75e-3 exactly.
    Raises UnitError for anything that is not a finite number with a unit of this kind.
    """
    if isinstance(value, bool) or not isinstance(value, str):
        raise UnitError(kind.phrase, _hint_for_bare(value, kind))
    found = _NUMBER.fullmatch(value) if len(value) <= LONGEST else None
    if found is None:
        raise UnitError(kind.phrase, "Start with a finite number, then a blank and the unit.")
    digits, unit = found.group(1), _normalised(found.group(2))
    number = float(digits)
    if not abs(number) <= HUGE:
        raise UnitError(kind.phrase, f"The number is out of all proportion; stay below {HUGE:g}.")
    if not unit:
        raise UnitError(kind.phrase, f'Add the unit: "{digits} {kind.shown}" if {kind.shown} was meant.')
    result = _by_table(digits if number else "0", unit, kind)
    result = _by_pint(number, unit, kind) if result is None else result
    if not abs(result) <= HUGE:
        raise UnitError(kind.phrase, f"In SI units the number exceeds {HUGE:g}; check the unit.")
    if kind is TEMPERATURE and result < 0.0:
        raise UnitError(kind.phrase, "Nothing is colder than -273.15 degC.")
    return result


def show(value: float, kind: Kind) -> str:
    """An SI `value` in the unit that people use for this kind, to six digits: show(0.0125, LENGTH) is "12.5 mm"."""
    if kind is TEMPERATURE:
        return f"{_digits(value - float(ZERO_CELSIUS))} degC"
    if kind is ANGLE:
        return f"{_digits(math.degrees(value))} deg"
    return f"{_digits(value / float(kind.factors[kind.shown]))} {kind.shown}"


def _digits(number: float) -> str:
    text = f"{number:.6g}"
    return f"{number:.0f}" if "e+" in text and abs(number) < 1e10 else text


def _hint_for_bare(value: object, kind: Kind) -> str:
    if isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= HUGE:
        return f'Write "{value:g} {kind.shown}", in quotes, if {kind.shown} was meant.'
    return "Write the number and its unit as one string, in quotes."


def _normalised(unit: str) -> str:
    for written, spelled in _SPELLINGS:
        unit = unit.replace(written, spelled)
    return re.sub(r"\s+", " ", re.sub(r"\s*([*/^])\s*", r"\1", unit))


def _by_table(digits: str, unit: str, kind: Kind) -> float | None:
    """The SI value where the unit is one of the usual spellings, else None."""
    if kind is ANGLE and unit in _DEGREES:
        return math.radians(float(digits))
    factor = kind.factors.get(unit)
    if factor is None:
        return None
    offset = ZERO_CELSIUS if kind is TEMPERATURE and unit in ("degC", "celsius") else Decimal(0)
    return float(Decimal(digits) * factor + offset)


def _by_pint(number: float, unit: str, kind: Kind) -> float:
    """The SI value by pint, for units outside the table; raises UnitError."""
    if not _UNIT.fullmatch(unit):
        raise UnitError(kind.phrase, f'"{unit}" cannot be read as a unit.')
    if kind is TEMPERATURE and "delta" in unit:
        raise UnitError(kind.phrase, "This is a temperature, not a difference of two: write degC or K.")
    registry = _registry()
    try:
        result = float(registry.Quantity(number, unit).to(kind.unit).magnitude)
        zero = float(registry.Quantity(0.0, unit).to(kind.unit).magnitude)
    except Exception as error:  # pint raises many unrelated classes, down to those of the tokenizer
        raise UnitError(kind.phrase, f'"{unit}" is not a unit of {kind.name.split(" ", 1)[1]}.') from error
    if kind is TEMPERATURE_DIFFERENCE and zero != 0.0:
        raise UnitError(kind.phrase, "This is a difference of two temperatures: write K or delta_degC.")
    return result


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint  # noqa: PLC0415  half a second that ordinary cases never need

    return pint.UnitRegistry()
