"""Kinds of quantity that only the bench needs, and texts of options to SI; raises the one error with the option's name."""

from __future__ import annotations

from decimal import Decimal

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.layers import written_form
from meltzone.cases.inputs.tolerance import Toleranced, parse_percent, parse_toleranced
from meltzone.materials.units import Kind, UnitError, parse

DENSITY = Kind(
    "a density",
    "kg/m**3",
    "g/cm^3",
    "1.24 g/cm^3",
    {"g/cm^3": Decimal(1000), "g/cm3": Decimal(1000), "kg/m^3": Decimal(1), "kg/m3": Decimal(1), "g/ml": Decimal(1000)},
)


def option(name: str, written: str, kind: Kind, low: float, high: float) -> float:
    """The SI value of an option's text, from `low` to `high` [SI]; raises CaseError."""
    return toleranced_option(name, written, kind, low, high, tolerated=False).value


def toleranced_option(
    name: str, written: str, kind: Kind, low: float, high: float, tolerated: bool = True
) -> Toleranced:
    """The SI value and standard uncertainty of "1.24 g/cm^3 +/- 0.5 %", the value from `low` to `high`; raises CaseError."""
    try:
        found = parse_toleranced(written, kind) if tolerated else Toleranced(parse(written, kind))
    except UnitError as error:
        raise CaseError(name, None, None, written_form(written), error.expected, error.hint) from error
    if not low <= found.value <= high:
        expected = f"{kind.name} from {low / _factor(kind):g} to {high / _factor(kind):g} {kind.shown}"
        raise CaseError(name, None, None, written_form(written), expected, "Check the number and its unit.")
    return found


def percent_option(name: str, written: str, most: float) -> float:
    """The share [-] of a text such as "5 %", up to `most` [-]; raises CaseError."""
    expected = f'a percentage above 0 and up to {100.0 * most:g} %, as in "5 %"'
    try:
        found = parse_percent(written)
    except UnitError as error:
        raise CaseError(name, None, None, written_form(written), expected, "Write the sign of percent too.") from error
    if found > most:
        raise CaseError(name, None, None, written_form(written), expected, "Check the number.")
    return found


def _factor(kind: Kind) -> float:
    return float(kind.factors[kind.shown])
