"""Texts of options to SI; raises the one error with the option's name."""

from __future__ import annotations

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.inputs.layers import written_form
from meltzone.cases.inputs.tolerance import Toleranced, parse_percent, parse_toleranced
from meltzone.materials.units import Kind, UnitError, parse


def option(name: str, written: str, kind: Kind) -> float:
    """The SI value of an option's text, within the bounds of its `kind`; raises CaseError."""
    try:
        return parse(written, kind)
    except UnitError as error:
        raise CaseError(name, None, None, written_form(written), error.expected, error.hint) from error


def toleranced_option(name: str, written: str, kind: Kind) -> Toleranced:
    """The SI value and standard uncertainty of "1.24 g/cm^3 +/- 0.5 %", the value within the bounds; raises CaseError."""
    try:
        return parse_toleranced(written, kind)
    except UnitError as error:
        raise CaseError(name, None, None, written_form(written), error.expected, error.hint) from error


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
