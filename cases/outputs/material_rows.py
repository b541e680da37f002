"""The numbers of a material's card as rows of words, each with its key: what pages and reports are written from."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from meltzone.materials.air import Air
from meltzone.materials.curves import Curve
from meltzone.materials.polymer import CrossWLF, Polymer
from meltzone.materials.solid import Solid

ZERO_CELSIUS = 273.15


class Row(NamedTuple):
    """One number: its `key`, under which the card has its source, what it is called, its value with its unit."""

    key: str
    name: str
    value: str


def card_rows(material: Polymer | Solid | Air) -> list[Row]:
    """Every number that the card states."""
    if isinstance(material, Polymer):
        return _polymer_rows(material)
    return _solid_rows(material) if isinstance(material, Solid) else _air_rows(material)


def _polymer_rows(melt: Polymer) -> list[Row]:
    rows = [row for curve in (melt.conductivity, melt.heat_capacity, melt.density) for row in _curve_rows(curve, melt)]
    rows.append(Row("melting_enthalpy", "melting enthalpy", f"{1e-3 * melt.melting_enthalpy:g} J/g"))
    if melt.melting_enthalpy:
        rows.append(Row("melting_peak", "melting peak", _degrees(melt.melting_peak)))
        rows.append(Row("melting_width", "melting peak, foot to foot", f"{melt.melting_width:g} K"))
    for word in ("softening", "flow", "degradation", "decomposition"):
        key = f"{word}_temperature"
        rows.append(Row(key, key.replace("_", " "), _degrees(getattr(melt, key))))
    if melt.viscosity is not None:
        rows.append(Row("viscosity", "viscosity", _viscosity(melt.viscosity)))
    if melt.plateau_modulus is not None:
        rows.append(Row("plateau_modulus", "plateau modulus of the entangled melt", f"{melt.plateau_modulus:g} Pa"))
    return [row for row in rows if row.value]


def _solid_rows(metal: Solid) -> list[Row]:
    curves = (metal.conductivity, metal.heat_capacity, metal.density)
    rows = [row for curve in curves for row in _curve_rows(curve, metal)]
    rows.append(Row("emissivity", "emissivity", f"{metal.emissivity:g}"))
    rows.append(Row("warning_temperature", "caution from", _degrees(metal.warning_temperature)))
    rows.append(Row("service_limit", "limit for continuous service", _degrees(metal.service_limit)))
    rows.append(Row("refusal_temperature", "not to be used from", _degrees(metal.refusal_temperature)))
    return [row for row in rows if row.value]


def _air_rows(gas: Air) -> list[Row]:
    curves = (gas.conductivity, gas.kinematic_viscosity, gas.prandtl)
    return [row for curve in curves for row in _curve_rows(curve, gas)]


def _curve_rows(curve: Curve, material: Polymer | Solid | Air) -> Iterator[Row]:
    """One row for each point that has a source of its own, else one for the whole curve."""
    name, unit = curve.name.replace("_", " "), curve.unit or "-"
    if curve.is_constant:
        yield Row(curve.name, name, f"{curve.values[0]:g} {unit}")
        return
    points = [
        (f"{t - ZERO_CELSIUS:g} degC", f"{value:g}") for t, value in zip(curve.temperatures, curve.values, strict=True)
    ]
    if all(f"{curve.name} at {at}" in material.sources for at, _ in points):
        yield from (Row(f"{curve.name} at {at}", f"{name} at {at}", f"{value} {unit}") for at, value in points)
        return
    yield Row(curve.name, f"{name} [{unit}]", "; ".join(f"{value} at {at}" for at, value in points))


def _viscosity(law: CrossWLF) -> str:
    numbers = (
        f"n {law.n:g}, tau* {law.tau_star:g} Pa, D1 {law.D1:g} Pa s, D2 {law.D2:g} K, A1 {law.A1:g}, A2 {law.A2:g} K"
    )
    return f"Cross-WLF: {numbers}"


def _degrees(temperature: float | None) -> str:
    return "" if temperature is None else f"{temperature - ZERO_CELSIUS:.0f} degC"
