"""The table [uncertainty]: tolerances of material properties, by part and property."""

from __future__ import annotations

from meltzone.cases.inputs.errors import at_key, nearest
from meltzone.cases.inputs.reader import Case
from meltzone.cases.inputs.tolerance import parse_percent
from meltzone.materials.units import TEMPERATURE_DIFFERENCE, UnitError, parse

ONLY_SCALED = ("conductivity", "heat_capacity", "density", "melting_enthalpy", "emissivity")
_SOLID = ("conductivity", "emissivity")
PROPERTIES: dict[str, tuple[str, ...]] = {
    "polymer": (
        "conductivity",
        "heat_capacity",
        "density",
        "melting_enthalpy",
        "melting_peak",
        "softening_temperature",
        "flow_temperature",
    ),
    "block": _SOLID,
    "nozzle": _SOLID,
    "heat_break": _SOLID,
    "sleeve": _SOLID,
    "wrap": _SOLID,
    "liner": _SOLID,
    "second_block": _SOLID,
}


def property_deviations(case: Case) -> dict[str, float]:
    """Standard deviation by key, "uncertainty.polymer.conductivity": a share [-], or [K] for a temperature.

    Raises CaseError for parts, properties and texts that cannot be.
    """
    found = {}
    for part, table in case.model.uncertainty.items():
        for name, written in table.items():
            found[f"uncertainty.{part}.{name}"] = _deviation(case, part, name, written)
        if part not in PROPERTIES:
            raise _unknown(case, ["uncertainty", part], part, tuple(PROPERTIES))
    return found


def _deviation(case: Case, part: str, name: str, written: str) -> float:
    path = ["uncertainty", part, name]
    if part not in PROPERTIES:
        raise _unknown(case, path[:2], part, tuple(PROPERTIES))
    if name not in PROPERTIES[part]:
        raise _unknown(case, path, name, PROPERTIES[part])
    try:
        if name in ONLY_SCALED:
            return parse_percent(written)
        kelvin = parse(written, TEMPERATURE_DIFFERENCE)
        if not 0.0 < kelvin <= 100.0:
            raise UnitError("a difference of temperatures above 0 and up to 100 K", "It is one standard deviation.")
    except UnitError as error:
        raise at_key(case.layers, path, error.expected, error.hint) from error
    if part == "polymer" and getattr(case.model.polymer, name, None) is not None:
        expected = f"no tolerance here, since the case itself gives polymer.{name}"
        raise at_key(case.layers, path, expected, f'Write it there, as in {name} = "158 +/- 5 degC".')
    return kelvin


def _unknown(case: Case, path: list[str], written: str, known: tuple[str, ...]) -> Exception:
    close = nearest(written, known)
    hint = f"Did you mean {close[0]}?" if close else 'As in: polymer.conductivity = "10 %" below [uncertainty].'
    return at_key(case.layers, path, f"one of {', '.join(known)}", hint)
