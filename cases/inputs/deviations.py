"""The table [uncertainty]: tolerances of material properties, by part and property."""

from __future__ import annotations

from collections.abc import Iterable

from meltzone.cases.inputs.errors import at_key
from meltzone.cases.inputs.parameters import PARTS, Parameter, toleranced
from meltzone.cases.inputs.reader import Case
from meltzone.cases.inputs.tolerance import parse_percent
from meltzone.materials.errors import nearest
from meltzone.materials.units import TEMPERATURE_DIFFERENCE, UnitError, parse


def property_deviations(case: Case) -> list[tuple[Parameter, float]]:
    """Properties with their standard deviation, a share [-], or [K] for a temperature.

    Raises CaseError for parts, properties and texts that cannot be.
    """
    found = []
    for part, table in case.model.uncertainty.items():
        if part not in PARTS:
            raise _unknown(case, ["uncertainty", part], part, PARTS)
        known = toleranced(part)
        for name, written in table.items():
            if name not in known:
                raise _unknown(case, ["uncertainty", part, name], name, known)
            found.append((known[name], _deviation(case, known[name], written)))
    return found


def _deviation(case: Case, moved: Parameter, written: str) -> float:
    _, part, name = moved.path
    try:
        if moved.motion == "scale":
            return parse_percent(written)
        kelvin = parse(written, TEMPERATURE_DIFFERENCE)
        if not 0.0 < kelvin <= 100.0:
            raise UnitError("a difference of temperatures above 0 and up to 100 K", "It is one standard deviation.")
    except UnitError as error:
        raise at_key(case.layers, moved.path, error.expected, error.hint) from error
    if part == "polymer" and getattr(case.model.polymer, name, None) is not None:
        expected = f"no tolerance here, since the case itself gives polymer.{name}"
        raise at_key(case.layers, moved.path, expected, f'Write it there, as in {name} = "158 +/- 5 degC".')
    return kelvin


def _unknown(case: Case, path: list[str], written: str, known: Iterable[str]) -> Exception:
    close = nearest(written, known)
    hint = f"Did you mean {close[0]}?" if close else 'As in: polymer.conductivity = "10 %" below [uncertainty].'
    return at_key(case.layers, path, f"one of {', '.join(known)}", hint)
