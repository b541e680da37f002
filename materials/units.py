"""Numbers with units as people write them ("12.5 mm", "210 degC") to SI floats, and back."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import lru_cache
from types import MappingProxyType
from typing import Any

HUGE = 1e15  # unless a kind says more, nothing about a hot end comes near; larger numbers are slips
SMALLEST_LENGTH = 1e-12  # [m]
LONGEST = 60  # characters; a value with its unit is shorter by far
ZERO_CELSIUS = 273.15  # [K]

_ZERO = Decimal(str(ZERO_CELSIUS))
_CELSIUS = ("degC", "celsius", "C")
_DEGREES = ("deg", "degree", "degrees")
_NUMBER = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*", re.DOTALL)
# What may reach pint: names joined by * / and blanks, with one-digit powers. Anything else could make its parser
# evaluate towers of powers.
_FACTOR = r"\(*\s*(?:[^\W\d]+|1)(?:\^-?\d)?\s*\)*"
_UNIT = re.compile(rf"{_FACTOR}(?:\s*[*/ ]\s*{_FACTOR})*")
_COMMA = re.compile(r"\s*[+-]?\d+,\d+")
_POWER = re.compile(r"(?<=[^\W\d_])\^?([23])(?![\w.])")
_SUPERSCRIPTS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")
_SPELLINGS = (
    ("·", "*"), ("⋅", "*"), ("µ", "u"), ("μ", "u"),
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

    `factors` holds the usual spellings with their factor to SI; any other unit goes to pint. A kind without a unit is a
    plain number. `least` and `most` [SI] bound what may be written.
    """

    name: str
    unit: str
    shown: str
    example: str
    factors: Mapping[str, Decimal] = field(hash=False)
    least: float = -math.inf
    most: float = math.inf

    def within(self, least: float, most: float) -> Kind:
        """The same kind, bounded [SI]."""
        return replace(self, least=least, most=most)

    @property
    def is_temperature(self) -> bool:
        """Whether it is a point on the temperature scale (not a difference)."""
        return self.shown == "degC"

    @property
    def symbol(self) -> str:
        """The SI unit in short, as "W/m2/K"; '-' for a plain number."""
        return {"": "-", "kelvin": "K", "watt": "W", "newton": "N"}.get(self.unit, self.unit.replace("**", ""))

    @property
    def noun(self) -> str:
        """What it is called, without the article."""
        return self.name.split(" ", 1)[1]

    @property
    def phrase(self) -> str:
        """What is expected of a value, with an example."""
        if not self.unit:
            return f"{self.name} {self.limits}"
        return f'{self.name} with its unit, as in "{self.example}"'

    @property
    def limits(self) -> str:
        """The bounds in words."""
        if math.isinf(self.least) and math.isinf(self.most):
            return "of any size"
        if math.isinf(self.most):
            return f"of at least {show(self.least, self)}"
        return f"from {show(self.least, self)} to {show(self.most, self)}"


def _kind(name: str, unit: str, shown: str, example: str, factors: Mapping[str, str]) -> Kind:
    return Kind(name, unit, shown, example, MappingProxyType({key: Decimal(factor) for key, factor in factors.items()}))


LENGTH = _kind("a length", "m", "mm", "12.5 mm", {"m": "1", "cm": "0.01", "mm": "0.001", "um": "0.000001"})
TEMPERATURE = _kind(
    "a temperature", "kelvin", "degC", "210 degC", dict.fromkeys(("K", "degC", "kelvin", "celsius"), "1")
)
TEMPERATURE_DIFFERENCE = _kind(
    "a temperature difference", "kelvin", "K", "10 K", dict.fromkeys(("K", "kelvin", "delta_degC"), "1")
)
POWER = _kind("a power", "watt", "W", "40 W", {"W": "1", "kW": "1000", "mW": "0.001", "watt": "1"})
FORCE = _kind("a force", "newton", "N", "60 N", {"N": "1", "newton": "1", "kgf": "9.80665"})
SPEED = _kind("a speed", "m/s", "m/s", "5 m/s", {"m/s": "1", "mm/s": "0.001", "cm/s": "0.01"})
ACCELERATION = _kind("an acceleration", "m/s**2", "m/s^2", "3 m/s^2", {"m/s^2": "1", "mm/s^2": "0.001"})
ANGLE = _kind("an angle", "rad", "deg", "60 deg", {"rad": "1", "radian": "1"})
TIME = _kind("a time", "s", "s", "30 s", {"s": "1", "min": "60", "h": "3600", "ms": "0.001"})
MASS = _kind("a mass", "kg", "g", "1.25 g", {"kg": "1", "g": "0.001", "mg": "0.000001"})
VOLUME = _kind("a volume", "m**3", "mm^3", "60 mm^3", {"mm^3": "1e-9", "cm^3": "1e-6"})
MASS_FLOW = _kind("a mass flow", "kg/s", "g/s", "0.012 g/s", {"g/s": "0.001", "kg/s": "1"})
FLOW = _kind("a volume flow", "m**3/s", "mm^3/s", "12 mm^3/s", {"mm^3/s": "1e-9", "m^3/s": "1"})
DENSITY = _kind("a density", "kg/m**3", "g/cm^3", "1.24 g/cm^3", {"g/cm^3": "1000", "kg/m^3": "1", "g/ml": "1000"})
CONDUCTIVITY = _kind(
    "a thermal conductivity",
    "W/m/K",
    "W/m/K",
    "0.195 W/m/K",
    {"W/m/K": "1", "W/(m*K)": "1", "W/(m K)": "1", "mW/m/K": "0.001"},
)
_PER_AREA = {"W/m^2/K": "1", "W/(m^2*K)": "1", "W/(m^2 K)": "1", "kW/m^2/K": "1000"}
FILM = _kind("a film coefficient", "W/m**2/K", "W/m^2/K", "25 W/m^2/K", _PER_AREA)
CONDUCTANCE = _kind("a contact conductance", "W/m**2/K", "W/m^2/K", "3200 W/m^2/K", _PER_AREA)
RESISTANCE = _kind("a thermal resistance", "K/W", "K/W", "1.5 K/W", {"K/W": "1"})
HEAT_CAPACITY = _kind(
    "a heat capacity", "J/kg/K", "J/g/K", "1.8 J/g/K", {"J/g/K": "1000", "J/kg/K": "1", "kJ/kg/K": "1000"}
)
ENTHALPY = _kind("an enthalpy", "J/kg", "J/g", "10 J/g", {"J/g": "1000", "J/kg": "1", "kJ/kg": "1000"})
KINEMATIC_VISCOSITY = _kind(
    "a kinematic viscosity", "m**2/s", "mm^2/s", "16 mm^2/s", {"m^2/s": "1", "mm^2/s": "0.000001"}
)
STRESS = _kind("a stress", "Pa", "kPa", "100 kPa", {"Pa": "1", "kPa": "1000", "MPa": "1000000"})
VISCOSITY = _kind("a viscosity", "Pa*s", "Pa s", "900 Pa s", {"Pa s": "1", "Pa*s": "1"})
ACTIVATION = _kind("an activation energy", "J/mol", "kJ/mol", "80 kJ/mol", {"J/mol": "1", "kJ/mol": "1000"})
RATE = _kind("a rate of shear", "1/s", "1/s", "100 1/s", {"1/s": "1", "s^-1": "1", "rad/s": "1"})
SPECIFIC_POWER = _kind("a heat flow per mass", "W/kg", "W/g", "0.5 W/g", {"W/kg": "1", "W/g": "1000", "mW/mg": "1000"})
HEATING = _kind(
    "a heating rate", "K/s", "K/min", "10 K/min", {"K/s": "1"} | dict.fromkeys(("K/min", "degC/min"), str(1 / 60))
)
SPECIFIC_VOLUME = _kind("a specific volume", "m**3/kg", "cm^3/g", "0.93 cm^3/g", {"cm^3/g": "0.001", "m^3/kg": "1"})
MELT_FLOW = _kind("a melt flow rate", "kg/s", "g/10min", "6 g/10min", {"g/10min": str(1e-3 / 600), "kg/s": "1"})
PLAIN = Kind("a plain number", "", "", "0.9", MappingProxyType({"": Decimal(1)}))


def parse(value: object, kind: Kind) -> float:
    """The SI value of `value`, a string such as "12.5 mm"; of a kind without a unit also a number.

    Decimal factors keep the result equal to the literal of the same digits: "1.75 mm" is 1.75e-3 exactly.
    Raises UnitError for anything that is not a finite number with a unit of this kind, within its bounds.
    """
    digits, unit = _split(value, kind)
    if not unit and kind.unit:
        raise UnitError(kind.phrase, f'Add the unit: "{digits} {kind.shown}" if {kind.shown} was meant.')
    number = float(digits)  # beyond its range no exact value is of use
    return _converted(Decimal(digits) if number and math.isfinite(number) else number, unit, kind)


def parse_beside(number: float, unit: str, kind: Kind) -> float:
    """The SI value of a plain `number` whose `unit` is written beside it, as for a table of values; raises UnitError."""
    if not math.isfinite(number) or len(unit) > LONGEST:
        raise UnitError(kind.phrase, "Give finite numbers, and a unit in short.")
    return _converted(number, _normalised(unit), kind)


def show(value: float, kind: Kind) -> str:
    """An SI `value` in the unit that people use for this kind, to six digits: show(0.0125, LENGTH) is "12.5 mm"."""
    number = in_shown(value, kind)
    number = (
        0.0 if kind.unit == LENGTH.unit and abs(value) < SMALLEST_LENGTH else number
    )  # what rounding leaves of none
    text = f"{number:.6g}"
    text = f"{number:.0f}" if "e+" in text and abs(number) < 1e10 else text
    return f"{text} {kind.shown}".rstrip()


def spelled(unit: str) -> str:
    """A `unit` as people read it: W/m²/K for "W/m^2/K" and "W/m2/K"."""
    return _POWER.sub(lambda found: "²³"[int(found.group(1)) - 2], unit)


def in_shown(value: float, kind: Kind) -> float:
    """The number that an SI `value` has in the unit that people use for this kind."""
    if kind.is_temperature:
        return value - ZERO_CELSIUS
    if kind.shown == "deg":
        return math.degrees(value)
    return value / float(kind.factors[kind.shown])


def _split(value: object, kind: Kind) -> tuple[str, str]:
    """Digits and normalised unit of a value; raises UnitError."""
    if not kind.unit and isinstance(value, int | float) and not isinstance(value, bool):
        value = f"{value!r}" if abs(value) <= HUGE else ""
    if isinstance(value, bool) or not isinstance(value, str):
        raise UnitError(kind.phrase, _hint_for_bare(value, kind))
    found = _NUMBER.fullmatch(value) if len(value) <= LONGEST else None
    if found is None:
        hint = "Start with a finite number, then a blank and the unit."
        raise UnitError(kind.phrase, hint if kind.unit else _hint_for_bounds(kind))
    if _COMMA.match(value):
        written = _COMMA.sub(lambda comma: comma.group().replace(",", "."), value.strip(), count=1)
        raise UnitError(kind.phrase, f'Decimals begin with a point: write "{written}".')
    return found.group(1), _normalised(found.group(2))


def _normalised(unit: str) -> str:
    """The unit in one spelling: powers by ^, products by *, Greek and degree signs in letters, single blanks."""
    unit = unit.translate(_SUPERSCRIPTS)
    for written, spelled in _SPELLINGS:
        unit = unit.replace(written, spelled)
    unit = re.sub(r"\s+", " ", re.sub(r"\s*([*/^])\s*", r"\1", unit))
    return re.sub(r"(?<=[^\W\d_])(-?\d)", r"^\1", unit)


def _converted(number: Decimal | float, unit: str, kind: Kind) -> float:
    """The SI value, within all bounds; raises UnitError."""
    proportion = max(HUGE, *(abs(end) for end in (kind.least, kind.most) if math.isfinite(end)), 0.0)
    if not abs(float(number)) <= proportion:
        raise UnitError(kind.phrase, f"The number is out of all proportion; stay below {proportion:g}.")
    result = _by_table(number, unit, kind)
    result = _by_pint(float(number), unit, kind) if result is None else result
    if not abs(result) <= proportion:
        raise UnitError(kind.phrase, f"In SI units the number exceeds {proportion:g}; check the unit.")
    if kind.is_temperature and result < 0.0:
        raise UnitError(kind.phrase, "Nothing is colder than -273.15 degC.")
    if not kind.least <= result <= kind.most:
        raise UnitError(f"{kind.name} {kind.limits}", _hint_for_bounds(kind))
    return result


def _hint_for_bare(value: object, kind: Kind) -> str:
    if not kind.unit:
        return _hint_for_bounds(kind)
    if isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= HUGE:
        return f'Write "{value:g} {kind.shown}", in quotes, if {kind.shown} was meant.'
    return "Write the number and its unit as one string, in quotes."


def _hint_for_bounds(kind: Kind) -> str:
    if kind.unit:
        return "Check the number and its unit."
    usual = kind.most if math.isfinite(kind.most) else 1.0
    return f"Write it without unit and quotes, as in {usual:g}."


def _by_table(number: Decimal | float, unit: str, kind: Kind) -> float | None:
    """The SI value where the unit is one of the usual spellings, else None."""
    if kind.shown == "deg" and unit in _DEGREES:
        return math.radians(float(number))
    factor = kind.factors.get(unit)
    if factor is None:
        return None
    offset = _ZERO if kind.is_temperature and unit in _CELSIUS else Decimal(0)
    if isinstance(number, Decimal):
        return float(number * factor + offset)
    return number * float(factor) + float(offset)


def _by_pint(number: float, unit: str, kind: Kind) -> float:
    """The SI value by pint, for units outside the table; raises UnitError."""
    if not kind.unit:
        raise UnitError(kind.phrase, _hint_for_bounds(kind))
    if not _UNIT.fullmatch(unit):
        raise UnitError(kind.phrase, f'"{unit}" cannot be read as a unit.')
    if kind.is_temperature and "delta" in unit:
        raise UnitError(kind.phrase, "This is a temperature, not a difference of two: write degC or K.")
    registry = _registry()
    try:
        result = float(registry.Quantity(number, unit).to(kind.unit).magnitude)
        zero = float(registry.Quantity(0.0, unit).to(kind.unit).magnitude)
    except Exception as error:  # pint raises many unrelated classes, down to those of the tokenizer
        raise UnitError(kind.phrase, f'"{unit}" is not a unit of {kind.noun}.') from error
    if kind.unit == "kelvin" and not kind.is_temperature and zero != 0.0:
        raise UnitError(kind.phrase, "This is a difference of two temperatures: write K or delta_degC.")
    return result


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint  # half a second that ordinary cases never need

    return pint.UnitRegistry()
