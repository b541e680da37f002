"""Numbers with units as a card writes them, brought to SI and held against physical bounds."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

from meltzone.materials.errors import CardError

CELSIUS_ZERO = 273.15
CELSIUS = ("degC", "°C", "C", "celsius")
_NUMBER_AND_UNIT = re.compile(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(.*?)\s*")
_EXPONENT = re.compile(r"(?<=[A-Za-z])(-?\d)")


@dataclass(frozen=True)
class Quantity:
    """What a key may hold: SI `unit`, bounds [SI] that no real material leaves, factors of other units, an example."""

    unit: str
    least: float
    most: float
    factors: MappingProxyType[str, float]
    example: str

    @property
    def expected(self) -> str:
        """The phrase for an error message."""
        if not self.unit:
            return f"a plain number from {self.least:g} to {self.most:g}"
        if self.is_temperature:
            low, high = self.least - CELSIUS_ZERO, self.most - CELSIUS_ZERO
            return f'a temperature with its unit, from {low:.0f} to {high:.0f} degC, such as "{self.example}"'
        return f'a number with its unit, from {self.least:g} to {self.most:g} {self.unit}, such as "{self.example}"'

    @property
    def is_temperature(self) -> bool:
        """Whether it is a point on the temperature scale (not a difference)."""
        return self.unit == "K" and "degC" in self.factors


def _quantity(unit: str, least: float, most: float, example: str, **others: float) -> Quantity:
    spelled = {name.replace("_per_", "/").replace("_", " "): factor for name, factor in others.items()}
    return Quantity(unit, least, most, MappingProxyType({unit: 1.0, **spelled}), example)


CONDUCTIVITY = _quantity("W/m/K", 0.005, 3000.0, "0.2 W/m/K", mW_per_m_per_K=1e-3)
HEAT_CAPACITY = _quantity("J/kg/K", 100.0, 10000.0, "1.8 J/g/K", J_per_g_per_K=1e3, kJ_per_kg_per_K=1e3)
DENSITY = _quantity("kg/m3", 5.0, 25000.0, "1.24 g/cm3", g_per_cm3=1e3)
ENTHALPY = _quantity("J/kg", 0.0, 400e3, "10 J/g", J_per_g=1e3, kJ_per_kg=1e3)
TEMPERATURE = _quantity("K", 150.0, 3000.0, "180 degC", **dict.fromkeys(CELSIUS, 1.0))
WIDTH = _quantity("K", 1.0, 150.0, "20 K")
KINEMATIC_VISCOSITY = _quantity("m2/s", 1e-7, 1e-2, "1.6e-5 m2/s", mm2_per_s=1e-6)
STRESS = _quantity("Pa", 1.0, 1e9, "1e5 Pa", kPa=1e3, MPa=1e6)
VISCOSITY = _quantity("Pa s", 1e-6, 1e30, "1e10 Pa s")
FRACTION = _quantity("", 0.0, 1.0, "0.9")
NUMBER = _quantity("", 1e-6, 1e6, "0.7")


def read_number(entry: Any, quantity: Quantity, key: str, unit: str | None = None) -> float:
    """One number in SI from `entry`: a string "0.2 W/m/K", or a plain number whose unit is `unit` (as in a table)."""
    magnitude, written = _split(entry, quantity, key)
    if written and not quantity.unit:
        raise CardError(key, entry, quantity.expected, "It has no unit.")
    if not written and quantity.unit:
        if unit is None:
            raise CardError(key, entry, quantity.expected, "Write the unit inside the quotation marks.")
        written = unit
    value = _to_si(magnitude, written, quantity, key, entry)
    if not (math.isfinite(value) and quantity.least <= value <= quantity.most):
        raise CardError(key, entry, quantity.expected, "Check the number and its unit.")
    return value


def _split(entry: Any, quantity: Quantity, key: str) -> tuple[float, str]:
    if isinstance(entry, bool) or not isinstance(entry, (int, float, str)):
        raise CardError(key, entry, quantity.expected, "Check the spelling of the entry.")
    if not isinstance(entry, str):
        return _float(entry), ""
    match = _NUMBER_AND_UNIT.fullmatch(entry)
    if match is None:
        raise CardError(key, entry, quantity.expected, "Number first, then the unit; a point for decimals.")
    return _float(match.group(1)), match.group(2)


def _float(entry: float | str) -> float:
    """The number as a float; an integer too large for one becomes infinite, which the bounds then refuse."""
    try:
        return float(entry)
    except OverflowError:
        return math.inf


def _to_si(magnitude: float, written: str, quantity: Quantity, key: str, entry: Any) -> float:
    if quantity.is_temperature and written in CELSIUS:
        return magnitude + CELSIUS_ZERO
    if written in quantity.factors or not quantity.unit:
        return magnitude * quantity.factors.get(written, 1.0)
    if quantity is WIDTH and written in CELSIUS:
        raise CardError(key, entry, quantity.expected, "A width is a difference of temperatures: write it in K.")
    return _by_pint(magnitude, written, quantity, key, entry)


def _by_pint(magnitude: float, written: str, quantity: Quantity, key: str, entry: Any) -> float:
    """Any other unit; the unit library is loaded only here, since loading it costs more than reading every card."""
    import pint  # noqa: PLC0415

    try:
        unit = _registry().parse_units(_powers(written))
        return float(_registry().Quantity(magnitude, unit).to(_powers(quantity.unit)).magnitude)
    except pint.DimensionalityError:
        hint = f"The unit {written!r} does not measure this; use {quantity.unit}."
    except Exception:  # the unit parser raises half a dozen kinds, down to token errors
        hint = f"The unit {written!r} is not known; use {quantity.unit}."
    raise CardError(key, entry, quantity.expected, hint)


@cache
def _registry() -> Any:
    import pint  # noqa: PLC0415

    return pint.UnitRegistry(cache_folder=None)


def _powers(unit: str) -> str:
    return _EXPONENT.sub(r"**\1", unit)
